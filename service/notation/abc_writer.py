"""Writes tunes in ABC notation (the open standard ABC 2.1), so that reading them gives the same parts in the same order."""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, groupby, pairwise

from service.errors import DomainError
from service.music.harmony import Chord, Key
from service.music.meter import TICKS_PER_WHOLE, Meter
from service.music.pitch import tone_name
from service.music.tunes import UNIT_TICKS
from service.notation.abc import altered_letters, written_length, written_pitch
from service.notation.abc_fields import escaped
from service.notation.brought import MODES, Brought, BroughtPart
from service.notation.spelling import signature_of, spelled

_TUPLETS = ((3, 2), (5, 4))  # so many in the time of so many; whole ticks divide into no others
_PLAIN = 15  # ticks of a 128th: what is a multiple of it needs no tuplet
_MOST_IN_TUPLET = 9
_MEASURES_A_LINE = 4


def write_abc(brought: Brought) -> str:
    """One tune: passes that follow each other as repeats, with endings where they differ; other returns written out.

    Pickups must be shorter than a measure, melodies of one voice. Names of parts are not written: a reader gives them anew.
    """
    mode = "" if brought.mode == "major" else brought.mode[:3]
    fields = {
        "X": "1",
        "T": escaped(brought.name),
        "S": escaped(brought.source),
        "M": brought.meter.name,
        "L": f"1/{TICKS_PER_WHOLE // brought.meter.slot_ticks}",
        "Q": _tempo(*brought.tempo) if brought.tempo else "",
        "K": tone_name(brought.key.tonic) + mode,
    }
    signature = brought.key.tonic - MODES[brought.mode][0]
    written = {part.name: _measures(part, brought.meter, signature) for part in brought.parts}
    groups = [list(names) for _, names in groupby(brought.order, lambda name: name.rstrip("0123456789"))]
    lines = [line for names in groups for line in _section([written[name] for name in names])]
    if lines and lines[-1].endswith("||"):
        lines[-1] = lines[-1][:-1] + "]"
    return "".join(
        f"{line}\n" for line in (*(f"{name}: {text}" for name, text in fields.items() if text), *lines)
    )


def _tempo(minute: int, unit: str) -> str:
    beat = Fraction(UNIT_TICKS[unit], TICKS_PER_WHOLE)
    return f"{beat.numerator}/{beat.denominator}={minute}"


# --- repeats ---------------------------------------------------------------------------------------------


def _section(passes: Sequence[list[str]]) -> Iterator[str]:
    """Measures of passes that follow each other, with bars and repeat signs; ``||`` where the last is not repeated."""
    if len(passes) == 1:
        yield from _lines("", passes[0], "||")
        return
    again = ":" * (len(passes) - 1)
    if all(one == passes[0] for one in passes):
        yield from _lines(f"|{again} ", passes[0], f"{again}|")
        return
    common = 0
    while all(len(one) > common + 1 and one[common] == passes[0][common] for one in passes):
        common += 1
    numbers: dict[tuple[str, ...], list[str]] = {}
    for number, one in enumerate(passes, 1):
        numbers.setdefault(tuple(one[common:]), []).append(str(number))
    yield from _lines("|: ", passes[0][:common], "")
    for left, (ending, times) in zip(range(len(numbers))[::-1], numbers.items(), strict=True):
        yield from _lines(f"[{','.join(times)} ", ending, ":|" if left else "||")


def _lines(before: str, measures: Sequence[str], after: str) -> Iterator[str]:
    """A bar after every measure, a few measures in a line; the first begins with a sign, the last ends with one."""
    starts = range(0, len(measures), _MEASURES_A_LINE)
    for start in starts:
        line = " | ".join(measures[start : start + _MEASURES_A_LINE])
        last = start == starts[-1] and after
        yield f"{before}{line} {last or '|'}"
        before = ""
    if not measures:
        yield before.strip()


# --- measures --------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Piece:
    """A note, a rest or a piece of one, tied to the next or not, with the chord that begins there."""

    onset: int
    ticks: int
    pitch: int | None
    tied: bool = False


def _measures(part: BroughtPart, meter: Meter, signature: int) -> list[str]:
    """The pickup and the measures as text. A last measure with silence for the pickup leaves it to the pickup."""
    bars = list(accumulate(part.measures, initial=0))
    first = min(
        [0, *(note.onset for note in part.melody[:1]), *(change.onset for change in part.changes[:1])]
    )
    spans = [*pairwise(bars)]
    start, end = spans[-1]
    busy = max(
        [
            0,
            *(note.onset + note.duration for note in part.melody),
            *(change.onset + 1 for change in part.changes),
        ]
    )
    if start and end - start == meter.measure_ticks and busy <= end + first:
        spans[-1] = (start, end + first)
    if first:
        spans.insert(0, (first, 0))
    chords = {change.onset: change.chord for change in part.changes}
    onsets = [note.onset for note in part.melody]
    written: list[str] = []
    for span in spans:
        text = _measure(_pieces(part, onsets, chords, span, bars[-1]), chords, signature, meter)
        if span in pairwise(bars) and span[1] - span[0] != meter.measure_ticks:
            text = f"[M:{_length_name(span[1] - span[0], meter)}]{text}[M:{meter.name}]"
        written.append(text)
    return written


def _length_name(ticks: int, meter: Meter) -> str:
    try:
        count, unit = signature_of(ticks, meter)
    except DomainError:
        share = Fraction(ticks, TICKS_PER_WHOLE)
        count, unit = share.numerator, share.denominator
    return f"{count}/{unit}"


def _pieces(
    part: BroughtPart,
    onsets: Sequence[int],
    chords: Mapping[int, Chord | None],
    span: tuple[int, int],
    end: int,
) -> list[_Piece]:
    """What a measure has to write: notes and rests cut at bars and where chords begin."""
    start, stop = span
    at = max(0, bisect_right(onsets, start) - 1)
    inside = part.melody[at : bisect_left(onsets, stop)]
    edges = {edge for note in inside for edge in (note.onset, note.onset + note.duration)} | set(chords)
    cuts = [start, *sorted(edge for edge in edges if start < edge < stop), stop]
    pieces: list[_Piece] = []
    for left, right in pairwise(cuts):
        place = bisect_right(onsets, left) - 1
        note = part.melody[place] if place >= 0 else None
        until = 0 if note is None else min([note.onset + note.duration, end, *onsets[place + 1 : place + 2]])
        if note is None or until <= left:
            pieces.append(_Piece(left, right - left, None))
        else:
            pieces.append(_Piece(left, right - left, note.pitch, until > right))
    return pieces


def _measure(
    pieces: Sequence[_Piece], chords: Mapping[int, Chord | None], signature: int, meter: Meter
) -> str:
    """Notes of one beat stand together."""
    text = ""
    accidentals: dict[str, int] = {}
    index = 0
    while index < len(pieces):
        up, down, count = _tuplet(pieces[index:])
        sign = f"({up}:{down}:{count}" if count > 1 or up != 1 else ""
        for piece in pieces[index : index + count]:
            chord = ""
            if piece.onset in chords:
                named = chords[piece.onset]
                chord = f'"{named.name if named else "N.C."}"'
            note = _note(piece, chords.get(piece.onset), signature, accidentals)
            length = written_length(Fraction(piece.ticks * up, meter.slot_ticks * down))
            beat = (piece.onset - pieces[0].onset) % meter.beat_ticks == 0
            text += f"{' ' if beat else ''}{sign}{chord}{note}{length}{'-' if piece.tied else ''}"
            sign = ""
        index += count
    return text.strip()


def _tuplet(pieces: Sequence[_Piece]) -> tuple[int, int, int]:
    """(p, q, r) of the tuplet that begins here, (1, 1, 1) where the first piece needs none or fits in none."""
    if pieces[0].ticks % _PLAIN:
        for up, down in _TUPLETS:
            ticks = 0
            for count, piece in enumerate(pieces[:_MOST_IN_TUPLET], 1):
                ticks += piece.ticks
                if piece.ticks * up % (down * _PLAIN):
                    break
                if ticks % _PLAIN == 0:
                    return up, down, count
    return 1, 1, 1


def _note(piece: _Piece, chord: Chord | None, signature: int, held: dict[str, int]) -> str:
    """The letter with its octave, and an accidental where what holds there since the bar or by the key is another."""
    if piece.pitch is None:
        return "z"
    place = spelled(piece.pitch, Key(signature), chord)
    return written_pitch(piece.pitch, place, altered_letters(signature), held)
