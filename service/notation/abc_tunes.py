"""Reads tunes in ABC notation (the open standard ABC 2.1): a file of them, each with fields and a body."""

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from typing import TypeVar

from service.errors import DomainError, Fault, ReadingError
from service.music.meter import METER_NAMES, Meter, meter_named
from service.music.tunes import MAX_MEASURES
from service.notation.abc_body import BodyReader, Sign, Told, TooLong, Written
from service.notation.abc_fields import (
    COMMON,
    KNOWN_METERS,
    NO_KEY,
    Ticks,
    Timed,
    field_in,
    key_in,
    length_in,
    meter_in,
    tempo_in,
    without_comment,
    words,
)
from service.notation.abc_form import form_of
from service.notation.brought import Brought, BroughtTunes, NotRead
from service.notation.clean import Line, clean_lines

MAX_TEXT = 200_000  # characters; a printed collection of a hundred tunes is a third of it
MAX_TUNES = 200  # in one text
MOST_TOLD = 5  # faults of a tune beside others that were read; ours: it is mended by itself

_SOURCES = "COSB"  # composer, origin, source, book: what is told of where a tune comes from
_SHARED = _SOURCES + "MLQR"  # fields before the first tune that go for all of them
# What a rhythm is counted in where no meter is stated. Common practice.
_RHYTHMS = {
    "jig": "6/8",
    "single jig": "6/8",
    "double jig": "6/8",
    "slip jig": "9/8",
    "slide": "12/8",
    "reel": "2/2",
    "breakdown": "2/2",
    "hornpipe": "4/4",
    "strathspey": "4/4",
    "march": "4/4",
    "polka": "2/4",
    "waltz": "3/4",
}

_COMMONEST = ("4/4", "6/8", "2/4", *METER_NAMES)  # of meters with equally long measures the first is taken
_AFTER_KEY = "TCOSBNZRMLQ"  # fields that still belong to the header where they stand right after the key

_Read = TypeVar("_Read")
_Place = tuple[Line, int, str]  # a field's line, where its value begins, and the value
_Fields = dict[str, list[_Place]]  # by letter


def read_abc(text: str) -> BroughtTunes:
    """All tunes of a text; ``X:`` begins each, a text without it is one tune. Those that cannot be read do not keep the others back.

    Raises ReadingError where no tune can be read, with a fault for each place, of all the tunes together.
    """
    if len(text) > MAX_TEXT:
        raise ReadingError([Fault("text-too-long", {"most": MAX_TEXT}, line=1, column=1)])
    lines = list(_without_comments(clean_lines(text)))
    letters = [_letter(line) for line in lines]
    starts = [index for index, letter in enumerate(letters) if letter == "X"]
    shared: _Fields = {}
    if not starts or "K" in letters[: starts[0]]:
        starts.insert(0, 0)
    for line, letter in zip(lines[: starts[0]], letters, strict=False):
        if letter and letter in _SHARED:
            _keep(shared, line)
    if len(starts) > MAX_TUNES:
        raise ReadingError([lines[starts[MAX_TUNES]].fault("abc-too-many-tunes", 0, most=MAX_TUNES)])
    faults: list[Fault] = []
    tunes: list[Brought] = []
    not_read: list[NotRead] = []
    for place, (start, end) in enumerate(pairwise([*starts, len(lines)]), 1):
        told, fields = Told(), dict(shared)
        tune = _read_tune(lines[start:end] or [Line(1, "", (), "")], fields, told)
        if tune is not None and not told.faults:
            tunes.append(tune)
        else:
            not_read.append(NotRead(place, _name(fields), tuple(told.faults[:MOST_TOLD])))
            faults += told.faults
    if not tunes:
        raise ReadingError(faults)
    return BroughtTunes(tuple(tunes), tuple(not_read))


def _without_comments(lines: Sequence[Line]) -> Iterator[Line]:
    """A line that is only a comment is no empty line: it does not end a tune."""
    for line in lines:
        text = without_comment(line.text)
        if text or not line.text:
            yield line if text == line.text else Line(line.number, text, line.columns, line.original)


def _letter(line: Line) -> str | None:
    found = field_in(line.text)
    return found[0] if found else None


def _keep(fields: _Fields, line: Line) -> None:
    found = field_in(line.text)
    if found:
        letter, index = found
        value = line.text[index:].strip()
        if value or letter in "XK":
            fields.setdefault(letter, []).append((line, index, value))


def _read_tune(lines: Sequence[Line], fields: _Fields, told: Told) -> Brought | None:
    """None, with faults in ``told``, for a tune that cannot be read; its own fields come into ``fields``."""
    own: _Fields = {}
    music = _after_header(lines, own)
    if "X" in own:
        music = _until_empty(music, told)
    fields |= own
    first = music[0] if music else lines[0]
    if "K" not in own:
        told.remark("abc-no-key", first, 0)
        if "X" not in own and not any("|" in line.text for line in music):
            told.fault("abc-empty", first, 0)
    try:
        return _tune(fields, music, first, told)
    except TooLong:
        told.fault("too-many-measures", first, 0, most=MAX_MEASURES)
        return None


def _tune(fields: _Fields, music: Sequence[Line], first: Line, told: Told) -> Brought | None:
    """Raises TooLong. What has no place of its own is said at ``first``, the first line of music."""
    keyed = _value(fields, "K", key_in, "abc-key", told) or NO_KEY
    timed = _value(fields, "M", meter_in, "abc-meter", told)
    unit: Ticks = _value(fields, "L", length_in, "abc-length", told) or (timed or COMMON).usual_length
    meter = None
    if timed is not None:
        try:
            meter = meter_named(timed.name)
        except DomainError:
            place, index, value = fields["M"][-1]
            told.fault("abc-meter", place, index, value=value[:20], known=KNOWN_METERS)

    def read(timed: Timed, told: Told) -> tuple[list[Written], Sign]:
        voice = fields.get("V", [])[:1]
        reader = BodyReader(keyed, timed, unit, told, voice[0][2].split()[0] if voice else None)
        for line in music:
            reader.read(line)
        return reader.finish()

    if timed is None:
        meter = _meter_taken(fields, lambda: read(COMMON, Told())[0])
        timed = meter_in(meter.name) or COMMON
        told.remark("abc-no-meter", first, 0, meter=meter.name)
    measures, last = read(timed, told)
    if not told.faults and not any(measure.notes for measure in measures):
        told.fault("abc-empty", first, 0)
    if told.faults or meter is None:
        return None
    order = [value for _, _, value in fields.get("P", [])]
    form = form_of(measures, last, order[0] if order else None)
    return Brought(
        name=_name(fields),
        key=keyed.key,
        mode=keyed.mode,
        meter=meter,
        parts=form.parts,
        order=form.order,
        tempo=next((tempo_in(value, unit, meter) for _, _, value in fields.get("Q", [])), None),
        source="; ".join(words(value) for letter in _SOURCES for _, _, value in fields.get(letter, [])),
        remarks=(*told.remarks.values(), *form.remarks),
    )


def _name(fields: _Fields) -> str:
    return next((words(value) for _, _, value in fields.get("T", [])), "")


def _after_header(lines: Sequence[Line], fields: _Fields) -> Sequence[Line]:
    """Keeps the header's fields, and gives the lines after it; without a key it ends before the first line of music."""
    for index, line in enumerate(lines):
        letter = _letter(line)
        if line.text and (letter is None or ("K" in fields and letter not in _AFTER_KEY)):
            return lines[index:]
        if not line.text and "K" in fields:
            return lines[index:]
        _keep(fields, line)
    return []


def _until_empty(lines: Sequence[Line], told: Told) -> Sequence[Line]:
    """An empty line ends a tune that has a number; music after it is told of."""
    end = next((index for index, line in enumerate(lines) if not line.text), len(lines))
    for line in lines[end:]:
        if "|" in line.text and _letter(line) is None:
            told.remark("abc-after-the-end", line, 0)
            break
    return lines[:end]


def _value(
    fields: _Fields, letter: str, read: Callable[[str], _Read | None], code: str, told: Told
) -> _Read | None:
    """What the last field of a letter says; None where there is none, or, with a fault, where it cannot be read."""
    for line, index, value in fields.get(letter, [])[-1:]:
        if letter == "M" and value.lower() == "none":
            return None
        found = read(value)
        if found is None:
            known = {"known": KNOWN_METERS} if letter == "M" else {}
            told.fault(code, line, index, value=value[:20], **known)
        return found
    return None


def _meter_taken(fields: _Fields, measures: Callable[[], Sequence[Written]]) -> Meter:
    """The meter of a tune that states none: its rhythm's, or that of the length that most measures have."""
    for _, _, value in fields.get("R", []):
        if _RHYTHMS.get(value.lower()) in METER_NAMES:
            return meter_named(_RHYTHMS[value.lower()])
    lengths = Counter(measure.ticks for measure in measures())
    for ticks, _ in lengths.most_common():
        for name in _COMMONEST:
            if meter_named(name).measure_ticks == ticks:
                return meter_named(name)
    return meter_named(_COMMONEST[0])
