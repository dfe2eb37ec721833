"""All commands in one book."""

from functools import cache

from bot.book import Book
from bot.commands import (
    arranging,
    breaks,
    bringing,
    challenges,
    cutting,
    evenings,
    group_care,
    group_set_up,
    groups,
    help,
    licks,
    practice,
    proposing,
    reporting,
    sending,
    sounds,
    tunes,
    variations,
)
from bot.wording import word

FAMILIES = {
    "break": word("Breaks (solos) of a tune: fresh ones, the best, one lick changed."),
    "lick": word("The group's licks: look at them, search, send yours in."),
    "tune": word("Tunes: their form, chart, how they start and end."),
    "challenge": word("The week's challenge, its variations, votes and round-up."),
    "variation": word("Variations of it: send yours, see and hear others', vote."),
    "evening": word("Evenings: tunes, who takes which break, what was played."),
    "practice": word("What you practise: tempos, progress, what comes up again."),
    "lesson": word("What is set for somebody by a day."),
    "group": word("The group itself: joining, set-up, who is in it, taking it along."),
}


@cache
def book() -> Book:
    commands = (
        *breaks.COMMANDS,
        *sounds.COMMANDS,
        *tunes.COMMANDS,
        *arranging.COMMANDS,
        *bringing.COMMANDS,
        *cutting.COMMANDS,
        *licks.COMMANDS,
        *proposing.COMMANDS,
        *sending.COMMANDS,
        *reporting.COMMANDS,
        *challenges.COMMANDS,
        *variations.COMMANDS,
        *evenings.COMMANDS,
        *practice.COMMANDS,
        *groups.COMMANDS,
        *group_set_up.COMMANDS,
        *group_care.COMMANDS,
        *help.COMMANDS,
    )
    return Book(FAMILIES, (help.help_of(FAMILIES, commands), *commands))
