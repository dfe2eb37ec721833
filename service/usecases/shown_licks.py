"""What pages show of a lick and takes a while to work out. It is kept with what is judged of the lick."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import msgspec

from service.errors import DomainError
from service.judge.facts import RULES_VERSION
from service.judge.fit import Fit
from service.judge.judgement import lick_fit
from service.judge.right_hand import right_hand
from service.music.licks import Lick
from service.music.passages import Passage, lick_passage
from service.notation.one_line import write_one_line
from service.notation.tab_writer import write_tab

# Raise the first when tab, one-line form or Shown change: what was kept by another version is made again.
SHOWN = f"1.{RULES_VERSION}"
BEGINS = f'{{"shown":{{"by":"{SHOWN}",'  # so do facts (JSON) that were kept with what this version shows


@dataclass(frozen=True, slots=True)
class Shown:
    """``fingers`` of the picking hand, by note; ``tab`` for a phone; ``line`` is None for a rhythm it cannot carry; ``fit`` over
    the lick's own chords. ``by`` is the version it was made by."""

    by: str
    fingers: tuple[str | None, ...]
    tab: str
    line: str | None
    fit: Fit


class _Beside(msgspec.Struct):
    """Where it is kept: the first field of a lick's facts."""

    shown: Shown


_decoder = msgspec.json.Decoder(_Beside)


def shown_of(lick: Lick) -> Shown:
    fingers = picking_fingers(lick)
    passage = fingered(lick, fingers)
    return Shown(SHOWN, fingers, write_tab(passage), one_line(passage), lick_fit(lick))


def read_shown(facts: str | None) -> Shown | None:
    """What was kept with the facts (JSON), if this version made it."""
    return _decoder.decode(facts).shown if facts is not None and facts.startswith(BEGINS) else None


def picking_fingers(lick: Lick) -> tuple[str | None, ...]:
    """The picking fingers, or the pick's way, by note, where the hand style has them."""
    return right_hand(lick.notes, [lick.style] * len(lick.notes), lick.meter).fingers


def fingered(lick: Lick, fingers: Sequence[str | None]) -> Passage:
    """The lick as a passage with these fingers."""
    passage = lick_passage(lick)
    notes = zip(passage.notes, fingers, strict=True)
    return replace(
        passage, notes=tuple(replace(note, finger=finger) if finger else note for note, finger in notes)
    )


def one_line(passage: Passage) -> str | None:
    """The one-line form, or None for a rhythm it cannot carry."""
    try:
        return write_one_line(passage)
    except DomainError:
        return None
