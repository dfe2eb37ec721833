"""Reading what people paste, without keeping it."""

import asyncio
import re
from collections.abc import Callable
from typing import TypeVar

from service.music.instruments import instrument_named
from service.notation.clean import clean_lines
from service.notation.one_line import read_one_line
from service.notation.readings import Reading
from service.notation.tab_reader import read_tab
from service.notation.tab_rows import is_row

T = TypeVar("T")
_BARE_ROW = re.compile(r"(?=.*0)[-\d]+|-{2}[-\d]+")  # -0-2-3-: one string of a tab
LONG_TEXT = 2_000  # characters; a lick has a few hundred, reading this many takes about a millisecond


def read_any(
    text: str,
    instrument: str,
    *,
    tuning: str | None = None,
    meter: str | None = None,
    measures: int | None = None,
    columns: int | None = None,
) -> Reading:
    """Read a tab, or the one-line form if there is no tab row in the text.

    Raises ReadingError with every place that cannot be read.
    """
    of = instrument_named(instrument)
    if looks_like_one_line(text):
        return read_one_line(text, of, tuning=tuning, meter=meter, measures=measures)
    return read_tab(text, of, tuning=tuning, meter=meter, measures=measures, columns=columns)


async def off_the_loop(work: Callable[[], T], text: str) -> T:
    """Do the work here for a short text, in a thread for a long one, so that nobody waits for it."""
    return work() if len(text) <= LONG_TEXT else await asyncio.to_thread(work)


def looks_like_one_line(text: str) -> bool:
    """No line is a tab row; a single one that is more than frets and dashes may be string numbers."""
    lines = [line for line in clean_lines(text) if line.text.strip()]
    rows = [line.text for line in lines if is_row(line)]
    if not lines or len(rows) > 1:
        return False
    return not rows or (len(lines) == 1 and "|" not in rows[0] and not _BARE_ROW.fullmatch(rows[0].strip()))
