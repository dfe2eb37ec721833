"""Reads a tune from MusicXML 4.0 (the open standard of the W3C), plain or compressed, score-partwise.

The melody is the first part with pitched notes, and of parts with chord symbols the first of those; percussion is none. Of it
the first voice is read, of chords the highest note. Grace and cue notes are left out. Segno, coda and da capo are read straight
on. All is told as it sounds. How repeats make parts: tune_form.py.
"""

import re
from collections import Counter
from collections.abc import Sequence
from xml.etree.ElementTree import Element

from service.errors import MOST_FAULTS, DomainError, Fault, ReadingError
from service.music.harmony import Key
from service.music.meter import TICKS_PER_QUARTER, Meter, meter_named
from service.music.tunes import MAX_MEASURES, UNIT_TICKS
from service.notation.brought import MODES, Brought, mode_named
from service.notation.clean import words
from service.notation.key_finding import likeliest_key
from service.notation.musicxml_marks import UNITS
from service.notation.musicxml_opened import number, opened_score, part_names, title_of
from service.notation.musicxml_parts import PartReader
from service.notation.tune_form import FASTEST, Form, form_of

_DRUMS = "10"  # MIDI channel from 1, published (General MIDI)
_BEAT_TICKS = {"whole": 1920, "half": 960, "quarter": 480, "eighth": 240, "16th": 120}
_PER_MINUTE = re.compile(r"[0-9]{1,4}(\.[0-9]{1,6})?")
_PARTS_TOLD = 20


def read_musicxml(data: bytes) -> Brought:
    """The tune of a file. Raises ReadingError with a fault for each place, by its measure."""
    root = opened_score(data)
    part, others = _melody_part(root)
    if len(part.findall("measure")) > MAX_MEASURES:
        raise ReadingError([Fault("too-many-measures", {"most": MAX_MEASURES})])
    read = PartReader(part)
    meter = None if read.faults else _meter(read)
    if meter is None:
        raise ReadingError(read.faults)
    form = form_of(read.bars, meter)
    key, mode, about_key = _key(read.key, form)
    remarks = [*about_key, *read.remarks.values(), *form.remarks]
    if others:
        names = part_names(root)
        told = ", ".join(names.get(one.get("id", ""), "?") for one in others[:_PARTS_TOLD])
        remarks.insert(
            0, Fault("tune-other-parts", {"melody": names.get(part.get("id", ""), "?"), "others": told})
        )
    creators = dict.fromkeys(words(creator.text) for creator in root.findall("identification/creator"))
    return Brought(
        title_of(root),
        key,
        mode,
        meter,
        form.parts,
        form.order,
        _tempo(root, meter),
        words(", ".join(filter(None, creators))),
        tuple(remarks[:MOST_FAULTS]),
    )


def _melody_part(root: Element) -> tuple[Element, list[Element]]:
    """The part that is read, and the others that have notes. Raises ReadingError where there is none."""
    drums = {
        score_part.get("id")
        for score_part in root.iter("score-part")
        if any((channel.text or "").strip() == _DRUMS for channel in score_part.iter("midi-channel"))
    }
    pitched = [
        part
        for part in root.findall("part")
        if part.get("id") not in drums
        and next(part.iter("pitch"), None) is not None
        and all((sign.text or "").strip() != "percussion" for sign in part.iter("sign"))
    ]
    if not pitched:
        raise ReadingError([Fault("tune-no-notes")])
    chosen = next((part for part in pitched if next(part.iter("harmony"), None) is not None), pitched[0])
    return chosen, [part for part in pitched if part is not chosen]


def _meter(read: PartReader) -> Meter | None:
    """The meter of most measures; None, with a fault, where it is not known."""
    ((name, _),) = Counter(read.meters).most_common(1)
    try:
        return meter_named(name)
    except DomainError as error:
        measure = read.bars[read.meters.index(name)].number
        read.faults.append(Fault(error.code, error.params, measure=measure))
        return None


def _key(given: tuple[int | None, str | None], form: Form) -> tuple[Key, str, Sequence[Fault]]:
    signs, name = given
    if signs is None:
        key = likeliest_key(note for part in form.parts for note in part.melody)
        return key, key.mode, [Fault("tune-key-proposed", {"key": key.name})]
    mode = mode_named(name)
    remarks = [] if mode else [Fault("tune-mode-assumed", {"key": Key(signs).name})]
    above, third = MODES[mode or "major"]
    return Key(signs + above, third), mode or "major", remarks


def _tempo(root: Element, meter: Meter) -> tuple[int, str] | None:
    """The first that is given: of metronome marks, else of what players of files go by."""
    for mark in root.iter("metronome"):
        per_minute = _PER_MINUTE.search(mark.findtext("per-minute") or "")
        unit, dots = (mark.findtext("beat-unit") or "").strip(), len(mark.findall("beat-unit-dot"))
        ticks = _BEAT_TICKS.get(unit, 0) * (3 if dots else 2) // 2
        known = next((name for name, look in UNITS.items() if look == (unit, dots)), meter.beat_unit)
        bpm = round((number(per_minute.group()) or 0) * ticks / UNIT_TICKS[known]) if per_minute else 0
        if 0 < bpm <= FASTEST:
            return bpm, known
    for sound in root.iter("sound"):
        quarters = number(sound.get("tempo"))
        bpm = round((quarters or 0) * TICKS_PER_QUARTER / meter.beat_ticks)
        if 0 < bpm <= FASTEST:
            return bpm, meter.beat_unit
    return None
