"""What the lines before a tab state: meter, tuning, capo, the fifth string's stop, columns a measure.

Only a whole statement counts, a line or a part of one between commas: a date or a tune's name must not
set the meter. A meter or tuning that is stated but not known is a fault: reading on would be a guess.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from service.errors import Fault, ReadingError
from service.music.instruments import Instrument
from service.music.meter import METER_NAMES
from service.music.setting import MAX_CAPO
from service.notation.clean import Line

_PART = re.compile(r"(?:(?!\s[-\u2013\u2014]\s)[^,;·|()])+")
_METER = re.compile(r"(in )?(time|meter|metre)?\s*[:=]?\s*(\d{1,2}/\d{1,2})( time| meter)?", re.I)
_METER_WORDS = {
    "cut time": "2/2", "cut-time": "2/2", "common time": "4/4", "waltz": "3/4", "waltz time": "3/4",
    "jig": "6/8", "jig time": "6/8", "slip jig": "9/8", "slip jig time": "9/8",
}  # fmt: skip
_TUNING = re.compile(r"tuning\s*[:=]\s*(\S.*)", re.I)
_CAPO = re.compile(
    r"(?<!no )(?<!without )(?<!string )\bcapo(?:\s+(?:on|at|the|fret|up))*\s*[:=]?\s*(?:fret\s+)?"
    r"(\d{1,2}|[ivx]{1,4})(?:st|nd|rd|th)?\b",
    re.I,
)
_CAPO_MENTIONED = re.compile(r"(?<!no )(?<!without )(?<!string )\bcapo\b", re.I)
_ROMAN = ("i", "ii", "iii", "iv", "v", "vi", "vii", "viii", "ix", "x")
_STOP = re.compile(r"\b(?:5th|fifth) string\s*(?:(open)|(?:at\s+)?(?:fret\s+)?(\d{1,2}))\b", re.I)
_COLUMNS = re.compile(r"\b(\d{1,2})\s+(?:columns|spaces|slots)\b", re.I)


@dataclass(slots=True)
class Said:
    """What is stated; None where nothing is. ``stop_fret`` is counted from the nut, 0 is open."""

    meter: str | None = None
    tuning: str | None = None
    capo: int | None = None
    columns: int | None = None
    stop_fret: int | None = None
    remarks: tuple[Fault, ...] = ()


def read_said(lines: Iterable[Line], instrument: Instrument) -> Said:
    """The first statement of each kind. Raises ReadingError for a meter or tuning that is not known."""
    said = Said()
    for line in lines:
        columns = _COLUMNS.search(line.text)
        if columns and int(columns.group(1)):
            said.columns = said.columns or int(columns.group(1))
        for found in _PART.finditer(line.text):
            _read_part(found.group(), found.start(), line, instrument, said)
    return said


def _read_part(text: str, at: int, line: Line, instrument: Instrument, said: Said) -> None:
    part = " ".join(text.split()).strip("-\u2013\u2014 ")
    # (1/2) over a measure is its length, no meter
    meter = None if line.text[max(0, at - 1) : at] == "(" else _METER.fullmatch(part)
    if meter and meter.group(3) in METER_NAMES:
        said.meter = said.meter or meter.group(3)
    elif meter and (meter.group(2) or meter.group(4)):
        known = ", ".join(METER_NAMES)
        start = at + text.index(meter.group(3))
        raise ReadingError([line.fault("unknown-meter", start, name=meter.group(3), known=known)])
    said.meter = said.meter or _METER_WORDS.get(part.lower().removeprefix("in "))
    said.tuning = said.tuning or _tuning(part, instrument)
    stated = _TUNING.fullmatch(part)
    if stated and _tuning(part, instrument) is None:
        known = ", ".join(tuning.id for tuning in instrument.tunings)
        raise ReadingError(
            [
                line.fault(
                    "unknown-tuning",
                    at + text.index(stated.group(1).split()[0]),
                    name=stated.group(1)[:40],
                    instrument=instrument.name,
                    known=known,
                )
            ]
        )
    _read_capo(part, at, line, said)
    stop = _STOP.search(part)
    if stop and instrument.short_string and said.stop_fret is None:
        fret = 0 if stop.group(1) else int(stop.group(2))
        first = instrument.short_string[1]
        if fret == 0 or first < fret <= first + MAX_CAPO:
            said.stop_fret = fret
        else:
            said.remarks += (line.fault("stop-not-understood", at, fret=fret, first=first + 1),)


def _read_capo(part: str, at: int, line: Line, said: Said) -> None:
    if said.capo is not None:
        return
    capo = _CAPO.search(part)
    written = capo.group(1).lower() if capo else ""
    if written.isdigit():
        said.capo = int(written)
    elif written in _ROMAN:
        said.capo = _ROMAN.index(written) + 1
    elif _CAPO_MENTIONED.search(part):
        said.remarks += (line.fault("capo-not-understood", at),)


def _tuning(part: str, instrument: Instrument) -> str | None:
    """The tuning that a part names (``open G``, ``banjo in sawmill tuning``) or spells (``gDGBD``)."""
    lowered = part.lower()
    if re.fullmatch(r"tuning\s*[:=]?\s*standard|standard tuning", lowered):
        return instrument.tuning().id
    for tuning in instrument.tunings:
        name, _, spelled = tuning.name.rstrip(")").partition(" (")
        name = re.escape(name.lower())
        must_say = "(?= tuning)" if len(name) == 1 else ""
        named = rf"(?:tuning\s*[:=]?\s*)?(?:[\w-]+ in )?{name}{must_say}(?: tuning)?"
        if re.fullmatch(named, lowered) or re.fullmatch(rf"tuning\s*[:=]?\s*{name}", lowered):
            return tuning.id
        if re.fullmatch(
            rf"(?:tuning[:=]?)?\(?{re.escape(spelled)}\)?",
            re.sub(r"\s", "", part),
            re.I if spelled.isupper() else 0,
        ):
            return tuning.id
    return None
