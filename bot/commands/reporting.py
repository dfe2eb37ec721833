"""Licks reported to organisers."""

from bot.api import licks
from bot.asks import Ask
from bot.book import Command, Option
from bot.commands.terms import LICK
from bot.replies import Answer, Blank, Button, Call, Form, Reply
from bot.wording import word
from schemas.reports import ReportIn

MOST_SAID = 1000
REASONS = {
    "rights": word("Somebody else's rights"),
    "wrong": word("It is wrong"),
    "unkind": word("It is unkind"),
    "other": word("Something else"),
}


async def lick_report(ask: Ask, lick: int) -> Answer:
    """What is the matter with it?"""
    found = await licks.one_lick(ask.here, lick)
    return Reply(
        head=ask.say("What is the matter with lick {number}, {name}?", number=lick, name=found.name),
        notes=(ask.say("Organisers read it. Nothing is hidden by it before they answer."),),
        buttons=(
            tuple(
                Button(ask.say(said), Call("lick report-why", {"lick": str(lick), "reason": reason}))
                for reason, said in REASONS.items()
            ),
        ),
        private=True,
    )


async def lick_report_why(ask: Ask, lick: int, reason: str) -> Answer:
    return Form(
        ask.say("Report lick {number}", number=lick),
        Call("lick reported", {"lick": str(lick), "reason": reason}),
        (
            Blank(
                "text", ask.say(REASONS[reason]), long=True, required=False, most=MOST_SAID,
                hint=ask.say("Say what an organiser must know."),
            ),
        ),
    )  # fmt: skip


async def lick_reported(ask: Ask, lick: int, reason: str, text: str = "") -> Answer:
    await licks.report(ask.here, lick, ReportIn(reason=reason, text=text))  # type: ignore[arg-type]
    return Reply(
        head=ask.say("Thank you. An organiser will look at lick {number}.", number=lick), private=True
    )


_REASON = Option("reason", "choice", word("What is the matter."), "r", required=True, choices=tuple(REASONS))

COMMANDS = (
    Command(
        "lick report",
        word("Tell organisers what is the matter with a lick."),
        lick_report,
        (LICK,),
        private=True,
    ),
    Command(
        "lick report-why",
        word("What is the matter with it."),
        lick_report_why,
        (LICK, _REASON),
        form=True,
        listed=False,
    ),
    Command(
        "lick reported",
        word("A report as it was typed."),
        lick_reported,
        (LICK, _REASON, Option("text", "text", word("What an organiser must know."), "x", most=MOST_SAID)),
        private=True,
        listed=False,
    ),
)
