"""Sound of something, and what is said with it: how fast, how long, and cautions."""

from collections.abc import Callable
from dataclasses import replace

from bot.api.client import Query
from bot.asks import Ask
from bot.commands.pictures import sound
from bot.commands.terms import TEMPOS
from bot.replies import SEPARATOR, Button, Reply
from schemas.sounds import SoundOut

SLOWER = 0.8  # of the tempo it had; ours: slow enough to be felt, fast enough to stay the same motion
SILENT = {"me": "lead", "band": "band"}  # who is left out, as the service calls them
BREAK, WORK_UP = "break", "work-up"

Rows = tuple[tuple[Button, ...], ...]


def slower(bpm: int) -> int:
    return max(TEMPOS[0], round(SLOWER * bpm))


async def heard(
    ask: Ask, heading: str, what: str, name: str, query: Query, buttons: Callable[[int], Rows]
) -> Reply:
    """The sound of ``what`` (``name``: BREAK or WORK_UP). ``buttons`` are made for the tempo it ends at."""
    files, told = await sound(ask, what, name, query)
    head = SEPARATOR.join([heading, _tempo(ask, told), lasting(told.seconds)])
    notes = list(told.cautions)
    if len(files) > 1:
        notes.insert(
            0, ask.say("It comes in {count} files, to be played one after the other.", count=len(files))
        )
    return Reply(
        head=head,
        notes=tuple(notes),
        files=tuple(replace(file, description=head) for file in files),
        buttons=buttons(told.tempos[-1].bpm),
    )


def _tempo(ask: Ask, told: SoundOut) -> str:
    first, last, unit = told.tempos[0].bpm, told.tempos[-1].bpm, ask.say(told.unit)
    if first == last:
        return f"{unit} = {first}"
    return ask.say("{unit} = {first} to {last}", unit=unit, first=first, last=last)


def lasting(seconds: float) -> str:
    """``2:05``."""
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes}:{rest:02}"
