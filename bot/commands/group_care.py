"""Looking after a group: reports of licks, what became of posts, copies to take along, going for good."""

from bot.api import groups
from bot.asks import Ask
from bot.book import Command, Option
from bot.commands.asking_twice import SURE
from bot.replies import Answer, Blank, Button, Call, Choice, File, Form, Menu, Reply, moment
from bot.trouble import Unusable
from bot.wording import word
from schemas.reports import AnswerIn, ReportOut

COPY = "copy"  # the kind of file
MOST_LISTED = 10  # of anything, in a list; ours
LICKS = ("keep", "remove")
DECISIONS = ("kept", "taken-down")


async def copy_of_group(ask: Ask) -> Answer:
    copy = await groups.copy_of_group(ask.here)
    return Reply(
        head=ask.say("Everything of the group, to take along or keep safe."),
        notes=(ask.say("It holds what members wrote and their names: mind who gets it."),),
        files=(File(COPY, copy.name, copy.data, ask.say("A copy of the group")),),
        private=True,
    )


async def copy_of_oneself(ask: Ask) -> Answer:
    copy = await groups.copy_of_oneself(ask.here, _number(ask))
    return Reply(
        head=ask.say("Everything that is known of you here."),
        files=(File(COPY, copy.name, copy.data, ask.say("A copy of what is yours")),),
        private=True,
    )


def _number(ask: Ask) -> int:
    if ask.me.member is None:
        raise Unusable(ask.say("Only members can do that."))
    return ask.me.member


async def erase_me(ask: Ask, licks: str = "", sure: bool = False) -> Answer:
    """Asked once more, with a button for each way."""
    if not licks or not sure:
        ways = (licks,) if licks else LICKS
        labels = {"keep": ask.say("Erase me, keep my licks"), "remove": ask.say("Erase me and my licks")}
        buttons = tuple(
            Button(labels[way], Call("group erase-me", {"licks": way, "sure": "yes"}), "grave")
            for way in ways
        )
        return Reply(
            head=ask.say(
                "Erase you from {group} for good? Nobody can undo it.",
                group=(await groups.group(ask.here)).name,
            ),
            notes=(
                ask.say("Name, practice, lessons, comments and recordings go; votes stay counted."),
                ask.say("What you sent in stays without a name, or goes too."),
                ask.say("A copy first: group my-data."),
            ),
            buttons=(buttons, (Button(ask.say("A copy first"), Call("group my-data")),)),
            private=True,
        )
    await groups.erase(ask.here, _number(ask), licks)
    return Reply(head=ask.say("You are erased. Nothing here tells who you were."), private=True)


# --- reports --------------------------------------------------------------------------------------------------


async def reports(ask: Ask) -> Answer:
    found = await groups.reports(ask.here, MOST_LISTED)
    if not found.items:
        return Reply(head=ask.say("No report is open."), private=True)
    notes = [_report(ask, one) for one in found.items]
    if found.next is not None:
        notes.append(ask.say("And more after these."))

    def menu(hint: str, decision: str) -> Menu:
        choices = tuple(
            Choice(
                ask.say("Report {id}, lick {lick}", id=one.id, lick=one.lick),
                Call("group answering", {"report": str(one.id), "decision": decision}),
            )
            for one in found.items
        )
        return Menu(hint, choices)

    licks = tuple(
        Choice(ask.say("lick {number}", number=lick), Call("lick show", {"lick": str(lick)}))
        for lick in dict.fromkeys(one.lick for one in found.items)
    )
    return Reply(
        head=ask.say("Reports that wait for an answer"),
        notes=tuple(notes),
        menus=(
            Menu(ask.say("Look at the lick"), licks),
            menu(ask.say("It stays"), "kept"),
            menu(ask.say("Take it down"), "taken-down"),
        ),
        private=True,
    )


def _report(ask: Ask, one: ReportOut) -> str:
    line = ask.say("{id}: lick {lick}, {reason}", id=one.id, lick=one.lick, reason=ask.say(one.reason))
    said = one.about.text if one.about is not None else one.text
    return f"{line}: {said}" if said else line


async def answering(ask: Ask, report: int, decision: str) -> Answer:
    """The form for what whoever reported it reads."""
    call = Call("group answer", {"report": str(report), "decision": decision})
    text = Blank("text", ask.say("Your answer; they read it"), long=True, most=500)
    return Form(ask.say("Answer report {id}", id=report), call, (text,))


async def answer(ask: Ask, report: int, decision: str, text: str) -> Answer:
    done = await groups.answer_report(
        ask.here,
        report,
        AnswerIn(decision=decision, text=text),  # type: ignore[arg-type]
    )
    said = (
        ask.say("Lick {lick} is taken down.", lick=done.lick)
        if done.decision == "taken-down"
        else ask.say("Lick {lick} stays.", lick=done.lick)
    )
    return Reply(head=said, private=True)


# --- posts ----------------------------------------------------------------------------------------------------


async def posts(ask: Ask, again: bool = False) -> Answer:
    """What became of the newest posts; ``again``: those that were parked are tried once more."""
    brought = await groups.try_posts_again(ask.here) if again else None
    found = await groups.posts(ask.here, MOST_LISTED)
    if not found:
        return Reply(head=ask.say("There were no posts yet."), private=True)
    parked = any(one.state == "parked" for one in found)
    notes = []
    for one in found:
        line = ask.say("{kind} of {moment}: {state}", kind=ask.say(one.kind), moment=moment(one.created), state=ask.say(one.state))  # fmt: skip
        notes.append(f"{line} ({ask.say(one.reason)})" if one.reason else line)
    head = (
        ask.say("What became of the newest posts")
        if brought is None
        else ask.say("Posts that are tried again: {count}", count=brought)
    )
    button = Button(ask.say("Try again"), Call("group posts", {"again": "yes"}), "main")
    return Reply(head=head, notes=tuple(notes), buttons=((button,),) if parked else (), private=True)


_REPORT = Option("report", "whole", word("Which report, by its number."), "r", required=True, least=1)
_DECISION = Option(
    "decision", "choice", word("What becomes of the lick."), "d", required=True, choices=DECISIONS
)

COMMANDS = (
    Command(
        "group export",
        word("A copy of everything the group has."),
        copy_of_group,
        private=True,
        organisers=True,
    ),
    Command("group my-data", word("A copy of all that is known of you."), copy_of_oneself, private=True),
    Command(
        "group erase-me",
        word("Be erased from the group for good."),
        erase_me,
        (Option("licks", "choice", word("Whether what you sent in stays."), "l", choices=LICKS), SURE),
        private=True,
    ),
    Command(
        "group reports",
        word("Reports of licks that wait for an answer."),
        reports,
        private=True,
        organisers=True,
    ),
    Command(
        "group answering",
        word("Answer a report."),
        answering,
        (_REPORT, _DECISION),
        form=True,
        listed=False,
        organisers=True,
    ),
    Command(
        "group answer",
        word("Answer a report."),
        answer,
        (_REPORT, _DECISION, Option("text", "text", word("Your answer."), "t", required=True, most=500)),
        private=True,
        listed=False,
        organisers=True,
    ),
    Command(
        "group posts",
        word("What became of posts to the channel."),
        posts,
        (Option("again", "yes", word("Try those again that could not be sent."), "a"),),
        private=True,
        organisers=True,
    ),
)
