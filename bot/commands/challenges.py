"""The week's challenge: what it is, setting and closing it, what was sent in, how it came out."""

from dataclasses import replace

from bot.api import challenges, variations
from bot.api.client import Refused
from bot.asks import Ask
from bot.book import Command, Option
from bot.commands.asking_twice import SURE, ask_twice
from bot.commands.breaks import set_up
from bot.commands.phrases import MOST_CHOICES, place_name, short
from bot.commands.pictures import with_picture
from bot.commands.terms import INSTRUMENT, LICK, PHRASE, TUNE
from bot.replies import SEPARATOR, Answer, Button, Call, Choice, Menu, Reply, moment
from bot.trouble import Unusable
from bot.wording import word
from schemas.challenges import ChallengeIn, ChallengeOut, StandingOut, VariationOut

MOST_LISTED = 10  # of anything, in a list; ours
TAKEN_DOWN = 451
OPENS = ("now", "next-week")


async def challenge_now(ask: Ask, challenge: int | None = None) -> Answer:
    """The phrase, where to begin, what to aim at, until when."""
    return await shown_challenge(ask, await _which(ask, challenge))


async def _which(ask: Ask, number: int | None) -> ChallengeOut:
    if number is not None:
        return await challenges.one_challenge(ask.here, number)
    return await challenges.current(ask.here)


async def shown_challenge(ask: Ask, found: ChallengeOut, *first: str) -> Reply:
    """``first`` are notes that come before what it is."""
    reply = Reply(
        head=_headline(ask, found), notes=(*first, *_what_it_is(ask, found)), buttons=_next(ask, found)
    )
    if found.lick is None:
        return reply
    try:
        return await with_picture(ask, reply, f"/licks/{found.lick}")
    except Refused as refused:
        if refused.problem.status != TAKEN_DOWN:
            raise
        return reply


def _headline(ask: Ask, found: ChallengeOut) -> str:
    return ask.say(
        "Challenge {number}: {tune}, phrase {place} of part {part}, over {chords}",
        number=found.number, tune=found.tune_name, part=found.part, place=found.place, chords=found.chords.strip("| "),
    )  # fmt: skip


def _what_it_is(ask: Ask, found: ChallengeOut) -> list[str]:
    notes = [SEPARATOR.join(set_up(ask, found.setting))]
    if found.lick is not None:
        notes.append(ask.say("Make it your own: {lick} ({number}).", lick=found.lick_name, number=found.lick))
    if found.goals:
        notes.append(_goals(ask, found))
    if found.note:
        notes.append(found.note)
    notes.append(_when(ask, found))
    if found.secret and found.state != "closed":
        notes.append(ask.say("How votes stand stays secret until then."))
    return notes


def _goals(ask: Ask, found: ChallengeOut) -> str:
    """``half = 50, 60, 70 for levels 1 to 3``."""
    first, last = found.goals[0], found.goals[-1]
    return ask.say(
        "Aim for {unit} = {tempos} at levels {least} to {most}; go up only after clean passes.",
        unit=ask.say(first.tempo.unit), tempos=", ".join(str(goal.tempo.bpm) for goal in found.goals),
        least=first.level, most=last.level,
    )  # fmt: skip


def _when(ask: Ask, found: ChallengeOut) -> str:
    if found.state == "open":
        return ask.say("Open until {moment}.", moment=moment(found.closes))
    if found.state == "planned":
        return ask.say(
            "Opens {opens}, until {closes}.", opens=moment(found.opens), closes=moment(found.closes)
        )
    if found.state == "cancelled":
        return ask.say("It was called off.")
    return ask.say("It closed {moment}.", moment=moment(found.closes))


def _next(ask: Ask, found: ChallengeOut) -> tuple[tuple[Button, ...], ...]:
    this = {"challenge": str(found.number)}
    first = []
    if found.lick is not None:
        first.append(Button(ask.say("Sound"), Call("lick sound", {"lick": str(found.lick)})))
    if found.state == "open":
        first.insert(0, Button(ask.say("Send a variation"), Call("variation send", this), "main"))
    if found.state != "planned":
        first.append(Button(ask.say("Entries"), Call("challenge entries", this)))
    if found.state == "closed":
        first.append(Button(ask.say("Round-up"), Call("challenge round-up", this)))
    rows = [tuple(first)]
    if ask.organises and found.state in ("open", "planned"):
        rows.append((Button(ask.say("Close it"), Call("challenge close", this), "grave"),))
    return tuple(row for row in rows if row)


async def set_challenge(
    ask: Ask,
    tune: str,
    phrase: int,
    lick: int | None = None,
    note: str = "",
    opens: str = "now",
    secret: bool | None = None,
    instrument: str | None = None,
) -> Answer:
    made = await challenges.set_challenge(
        ask.here,
        ChallengeIn(
            tune=tune,
            phrase=phrase,
            lick=lick,
            note=note,
            opens=opens,  # type: ignore[arg-type]
            secret=secret,
            instrument=instrument,
        ),
    )
    return await shown_challenge(ask, made)


async def close_challenge(ask: Ask, challenge: int | None = None, sure: bool = False) -> Answer:
    """Before its time; a planned one is called off."""
    found = await _which(ask, challenge)
    if not sure:
        return ask_twice(
            ask,
            ask.say("Close challenge {number}, {tune}, now?", number=found.number, tune=found.tune_name),
            ask.say("Close it"),
            Call("challenge close", {"challenge": str(found.number)}),
            ask.say("Nobody can send or vote after that, and the round-up is posted."),
        )
    closed = await challenges.close(ask.here, found.number)
    if closed.state == "cancelled":
        return Reply(head=ask.say("Challenge {number} is called off.", number=closed.number))
    return await round_up(ask, closed.number)


async def entries(ask: Ask, challenge: int | None = None) -> Answer:
    """Who sent what, with votes where they are told already."""
    found = await _which(ask, challenge)
    sent = await variations.variations(ask.here, found.number)
    if not sent:
        send = Call("variation send", {"challenge": str(found.number)})
        button = Button(ask.say("Send a variation"), send, "main")
        return Reply(
            head=ask.say("Nobody has sent a variation of {tune} in yet.", tune=found.tune_name),
            buttons=((button,),) if found.state == "open" else (),
        )
    first = sorted(sent, key=lambda one: (-(one.votes or 0), one.number))
    head = ask.say(
        "Challenge {number}, {tune}: {count} sent in.",
        number=found.number,
        tune=found.tune_name,
        count=len(sent),
    )
    notes = [_entry(ask, one) for one in first[:MOST_LISTED]]
    if len(sent) > MOST_LISTED:
        notes.append(ask.say("And {count} more.", count=len(sent) - MOST_LISTED))
    if any(one.votes is None for one in sent):
        notes.append(ask.say("How votes stand stays secret until the challenge closes."))
    choices = tuple(
        Choice(short(f"{one.number} {one.name}"), Call("variation show", {"variation": str(one.number)}))
        for one in first[:MOST_CHOICES]
    )
    return Reply(head=head, notes=tuple(notes), menus=(Menu(ask.say("See, hear and vote"), choices),))


def _entry(ask: Ask, one: VariationOut) -> str:
    by = one.by_name or ask.say("somebody")
    line = f"{one.number} {one.name}, {by}"
    if one.state != "entered":
        return f"{line} ({ask.say(one.state)})"
    marks = [] if one.votes is None else [ask.say("votes: {count}", count=one.votes)]
    if one.recording:
        marks.append(ask.say("recorded"))
    if one.voted:
        marks.append(ask.say("your vote"))
    return f"{line}: {', '.join(marks)}" if marks else line


async def every_challenge(ask: Ask) -> Answer:
    found = await challenges.newest(ask.here, MOST_LISTED)
    if not found:
        return Reply(head=ask.say("There was no challenge yet. An organiser sets one: challenge set."))
    choices = tuple(
        Choice(
            short(f"{one.number} {one.tune_name}"),
            Call("challenge now", {"challenge": str(one.number)}),
            ask.say(one.state),
        )
        for one in found
    )
    return Reply(
        head=ask.say("The newest challenges"),
        notes=tuple(
            f"{one.number} {one.tune_name}, {place_name(one.part, one.place)}: {ask.say(one.state)}"
            for one in found
        ),
        menus=(Menu(ask.say("Look at one"), choices),),
    )


async def round_up(ask: Ask, challenge: int | None = None) -> Answer:
    """How a challenge came out; without a number the last one that closed."""
    number = challenge or await _last_closed(ask)
    found = await challenges.round_up(ask.here, number)
    head = ask.say(
        "Challenge {number}, {tune}, is over: this is how it came out.",
        number=number,
        tune=found.challenge.tune_name,
    )
    if not found.standings:
        head = ask.say(
            "Challenge {number}, {tune}, is over; nothing was sent in.",
            number=number,
            tune=found.challenge.tune_name,
        )
    return _standings(ask, head, found.standings)


async def _last_closed(ask: Ask) -> int:
    newest = await challenges.newest(ask.here, MOST_LISTED)
    closed = next((one.number for one in newest if one.state == "closed"), None)
    if closed is None:
        raise Unusable(ask.say("No challenge has closed yet. The open one: challenge now."))
    return closed


async def favourites(ask: Ask) -> Answer:
    """What the group has liked best in all its challenges."""
    found = (await challenges.favourites(ask.here, MOST_LISTED)).items
    if not found:
        return Reply(
            head=ask.say(
                "There are no favourites yet: what got votes in a challenge that is over comes here."
            )
        )
    return _standings(ask, ask.say("What the group has liked best"), found)


def _standings(ask: Ask, head: str, standings: list[StandingOut]) -> Reply:
    shown = standings[:MOST_LISTED]
    notes = [
        ask.say(
            "{rank}. {name}, {by}: {votes} of {chances}",
            rank=one.rank, name=one.name, by=one.by_name or ask.say("somebody"), votes=one.votes, chances=one.chances,
        )
        for one in shown
    ]  # fmt: skip
    if len(standings) > len(shown):
        notes.append(ask.say("And {count} more.", count=len(standings) - len(shown)))
    if notes:
        notes.append(ask.say("Votes, of those who could have given one."))
    choices = tuple(
        Choice(short(f"{one.rank}. {one.name}"), Call("variation show", {"variation": str(one.variation)}))
        for one in shown
    )
    menus = (Menu(ask.say("See and hear one"), choices),) if choices else ()
    return Reply(head=head, notes=tuple(notes), menus=menus)


CHALLENGE = Option("challenge", "whole", word("Which challenge, by its number."), "c", least=1)

COMMANDS = (
    Command(
        "challenge now",
        word("The week's challenge: its phrase, a lick to start from, tempos to aim at."),
        challenge_now,
        (CHALLENGE,),
    ),
    Command(
        "challenge set",
        word("Set a challenge by hand."),
        set_challenge,
        (
            TUNE,
            replace(PHRASE, required=True),
            replace(LICK, about=word("The lick to start from; else one that suits."), required=False),
            Option("note", "text", word("A few words about it."), "e", most=500),
            Option("opens", "choice", word("Now, or when the next week begins."), "o", choices=OPENS),
            Option("secret", "yes", word("Nobody sees how votes stand before the round-up."), "s"),
            INSTRUMENT,
        ),
        organisers=True,
    ),
    Command(
        "challenge close",
        word("Close the challenge before its time."),
        close_challenge,
        (CHALLENGE, SURE),
        organisers=True,
    ),
    Command("challenge entries", word("What was sent in, to see, hear and vote for."), entries, (CHALLENGE,)),
    Command("challenge list", word("The newest challenges."), every_challenge),
    Command("challenge round-up", word("How a challenge came out."), round_up, (CHALLENGE,)),
    Command("favourites", word("What the group has liked best in all its challenges."), favourites),
)
