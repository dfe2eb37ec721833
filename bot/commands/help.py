"""What there is, what to do first, and what to mind."""

from collections.abc import Mapping, Sequence

from bot.asks import Ask
from bot.book import Command, Option
from bot.replies import Answer, Button, Call, Choice, Menu, Reply
from bot.wording import name_of, typed_name, word


def help_of(families: Mapping[str, str], commands: Sequence[Command]) -> Command:
    """The command ``help`` about others; ``families`` are first words and what they are about."""
    listed = [command for command in commands if command.listed]

    async def run(ask: Ask, about: str | None = None) -> Answer:
        return _of_family(ask, about, listed) if about is not None else _of_all(ask, families)

    return Command(
        "help",
        word("What I can do, and what to do first."),
        run,
        (Option("about", "choice", word("About what."), "a", choices=tuple(families)),),
        private=True,
        joined=False,
    )


def _of_all(ask: Ask, families: Mapping[str, str]) -> Reply:
    choices = tuple(
        Choice(
            name_of(family, "command", ask.language), Call("help", {"about": family}), ask.say(about)[:100]
        )
        for family, about in families.items()
    )
    return Reply(
        head=ask.say("I keep your group's licks, and make breaks of them."),
        notes=(
            ask.say("1. A fresh break of a tune: break random."),
            ask.say("2. The week's challenge: challenge now."),
            ask.say("3. Your own idea for it: variation send."),
            ask.say("4. Hear the others and vote: challenge entries."),
            ask.say("5. What we liked best: favourites."),
        ),
        buttons=(
            (
                Button(ask.say("This week's challenge"), Call("challenge now"), "main"),
                Button(ask.say("What to mind"), Call("cautions")),
            ),
        ),
        menus=(Menu(ask.say("More about"), choices),),
        private=True,
    )


def _of_family(ask: Ask, family: str, listed: Sequence[Command]) -> Reply:
    of_it = [command for command in listed if command.name.split()[0] == family]
    notes = [_line(ask, command) for command in of_it if not command.organisers]
    kept = [_line(ask, command) for command in of_it if command.organisers]
    if kept and ask.organises:
        notes += [ask.say("For organisers:"), *kept]
    return Reply(head=name_of(family, "command", ask.language), notes=tuple(notes), private=True)


def _line(ask: Ask, command: Command) -> str:
    return f"{typed_name(command.name, ask.language)}: {ask.say(command.about)}"


async def cautions(ask: Ask) -> Answer:
    return Reply(
        head=ask.say("What to mind"),
        notes=(
            ask.say("Warm up, take breaks, raise the load gradually."),
            ask.say("Stop at pain or numbness and see a clinician."),
            ask.say(
                "Keep the volume where a conversation beside you is still easy; I cannot know how loud it is at your ear."
            ),
            ask.say(
                "Traditional tunes are in the public domain; a recorded solo or a printed arrangement usually is not. Share what you may share."
            ),
            ask.say("None of this is medical or legal advice; local rules and licensed practice come first."),
        ),
        private=True,
    )


COMMANDS = (
    Command("cautions", word("What to mind: hands, ears, rights."), cautions, private=True, joined=False),
)
