"""Where a hammered, pulled, slid or tied note comes from."""

from collections.abc import Iterable

from service.music.licks import LINKED, Note
from service.music.meter import Meter

# A choke is pulled this far, in semitones: ours, players go from a quarter tone to a whole one.
CHOKE_SEMITONES = 1


def sources(notes: Iterable[Note], meter: Meter) -> dict[tuple[int, int], Note]:
    """By (onset, string) of a linked note, the note on the same string that it is sounded from.

    A slide comes from nowhere, so it is left out, if the string was last stopped at the same fret or more than a measure ago;
    so is a tie whose fret is another.
    """
    last: dict[int, Note] = {}
    found: dict[tuple[int, int], Note] = {}
    for note in sorted(notes, key=lambda note: note.onset):
        before = last.get(note.string)
        if note.technique in LINKED and before is not None and before.technique != "mute":
            moves = before.fret != note.fret
            near = note.onset - before.onset <= meter.measure_ticks
            if note.technique == "tie":
                fits = not moves
            elif note.technique == "slide":
                fits = moves and near
            else:
                fits = moves
            if fits:
                found[note.onset, note.string] = before
        last[note.string] = note
    return found
