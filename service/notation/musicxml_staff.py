"""The notes of one tab staff of a MusicXML part, measure by measure: string, fret and what the hands do, of all its voices."""

from dataclasses import dataclass
from xml.etree.ElementTree import Element

from service.errors import Fault
from service.music.licks import RIGHT_HANDS
from service.notation.clean import words
from service.notation.musicxml_opened import number
from service.notation.musicxml_parts import Drafted, PartReader, midi_of

# Elements that lead from one note to the next, where they stand, and what they are called here.
LINKS = {
    "technical/hammer-on": "hammer-on",
    "technical/pull-off": "pull-off",
    "slide": "slide",
    "glissando": "slide",
}
# What the left hand does to a single note: the first that is there counts.
_BY_NOTEHEAD = {"x": "mute"}
_FLAGS = {"technical/bend": "choke", "articulations/scoop": "slide"}
_BOWS = {"technical/down-bow": "d", "technical/up-bow": "u"}
_GROUPS = ("technical", "articulations", "ornaments", "dynamics")  # of notations, read or told one by one
_READ = frozenset(
    (
        "string",
        "fret",
        "pluck",
        "open-string",
        *(path.rpartition("/")[2] for path in (*LINKS, *_FLAGS, *_BOWS)),
    )
)
_TOLD_DIRECTIONS = ("dynamics", "wedge")
_LEVELS = frozenset(map(str, range(1, 17)))  # published: what tells links apart that go on at the same time
_STRINGS = range(1, 13)  # of a staff; ours: no instrument of a group has more


@dataclass(frozen=True, slots=True)
class StaffNote:
    """A note as it is written: onset in ticks from the start of its measure, ``ends`` where it stops.

    ``fret`` is the number that stands there, None where there is none; ``pitch`` sounds (MIDI), None where there is none. ``tied``
    says that it goes on from a note before. ``stops`` and ``starts`` are links as (technique, number): what leads to it, and what
    leads on from it. ``technique`` is what is done to it alone.
    """

    onset: int
    ends: int
    string: int
    fret: int | None
    pitch: int | None
    tied: bool
    stops: tuple[tuple[str, str], ...]
    starts: tuple[tuple[str, str], ...]
    technique: str | None
    finger: str | None


def tab_staff(part: Element) -> str | None:
    """The number of the first staff whose notes have strings and frets; None where none has."""
    found = {
        staff_of(note)
        for note in part.findall("measure/note")
        if note.find("notations/technical/string") is not None
        and note.find("notations/technical/fret") is not None
    }
    return min(found, default=None, key=lambda staff: (len(staff), staff))


def staff_of(note: Element) -> str:
    return (note.findtext("staff") or "1").strip()


class StaffReader(PartReader):
    """Reads a part into ``bars`` without notes, and the notes of one staff into ``written``, by the number of the bar (from 0).

    ``tuned`` holds the open strings as the staff states them, string 1 first, without the capo; empty where it does not.
    ``left_out`` are elements that are not read, by name, with the measure where each stands first.
    """

    def __init__(self, part: Element, staff: str) -> None:
        self.written: list[list[StaffNote]] = []
        self.tuned: tuple[int, ...] = ()
        self.capo = 0
        self.left_out: dict[str, int] = {}
        super().__init__(part, staff)

    def _measure(self, measure: Element, draft: Drafted) -> None:
        self.written.append([])
        super()._measure(measure, draft)

    def _note(self, note: Element, draft: Drafted) -> None:
        here = staff_of(note) == self._staff
        small = next((kind for kind in ("grace", "cue") if note.find(kind) is not None), None)
        duration = None if small == "grace" else self._begun(note, draft)
        if here and small is not None:
            self._leave_out(small, draft)
        if not here or small is not None or duration is None or note.find("rest") is not None:
            return
        if note.find("lyric") is not None:
            self._leave_out("lyric", draft)
        marks = [mark for notations in note.findall("notations") for mark in notations]
        by_path = _by_path(marks)
        for path in by_path:
            group, _, name = path.rpartition("/")
            if group in _GROUPS and name not in _READ:
                self._leave_out(name, draft)
        string = self._counted(by_path, "string", draft)
        if string is None:
            self.faults.append(Fault("lick-no-string", measure=draft.number))
            return
        if not duration:
            self._not_a_number("0", "duration", draft)
        onset, ends = draft.last, draft.last + duration
        if onset.denominator != 1:
            draft.inexact = True
        pitch = note.find("pitch")
        self.written[-1].append(
            StaffNote(
                int(onset),
                int(ends),
                string,
                self._counted(by_path, "fret", draft),
                None if pitch is None else self._pitch(pitch),
                any(tie.get("type") == "stop" for tie in (*note.findall("tie"), *by_path.get("tied", ()))),
                _links(by_path, "stop"),
                _links(by_path, "start"),
                _technique(note, by_path),
                self._finger(by_path, draft),
            )
        )

    def _counted(self, by_path: dict[str, list[Element]], name: str, draft: Drafted) -> int | None:
        """A string or fret; None where there is none, or, with a fault, where it is no such number."""
        for element in by_path.get(f"technical/{name}", ()):
            found = number(element.text)
            if found is not None and found.denominator == 1 and found >= 0:
                return int(found)
            self._not_a_number(element.text, name, draft)
        return None

    def _finger(self, by_path: dict[str, list[Element]], draft: Drafted) -> str | None:
        for element in by_path.get("technical/pluck", ()):
            if (finger := (element.text or "").strip()) in RIGHT_HANDS:
                return finger
            self._leave_out("pluck", draft)
        return next((stroke for path, stroke in _BOWS.items() if path in by_path), None)

    def _direction(self, direction: Element, draft: Drafted) -> None:
        super()._direction(direction, draft)
        for name in _TOLD_DIRECTIONS:
            if direction.find(f"direction-type/{name}") is not None:
                self._leave_out(name, draft)

    def _attributes(self, attributes: Element, draft: Drafted) -> None:
        super()._attributes(attributes, draft)
        details = self._of_staff(attributes, "staff-details")
        if details is None:
            return
        tunings = {
            tuning.get("line", ""): midi_of(tuning, "tuning-") for tuning in details.findall("staff-tuning")
        }
        lines = [tunings.get(str(line)) for line in range(len(tunings), 0, -1)]  # line 1 is the lowest
        known = [pitch for pitch in lines if pitch is not None]
        if known and len(known) == len(lines) and len(lines) in _STRINGS:
            self.tuned = tuple(known)
        if (capo := details.findtext("capo")) is not None:
            frets = number(capo)
            if frets is None or frets.denominator != 1 or frets < 0:
                self._not_a_number(capo, "capo", draft)
            else:
                self.capo = int(frets)

    def _leave_out(self, name: str, draft: Drafted) -> None:
        self.left_out.setdefault(words(name, 40), draft.number)


def _by_path(marks: list[Element]) -> dict[str, list[Element]]:
    """Notations by where they stand: ``technical/string``, ``slide``."""
    found: dict[str, list[Element]] = {}
    for mark in marks:
        for one in mark if mark.tag in _GROUPS else (mark,):
            path = f"{mark.tag}/{one.tag}" if mark.tag in _GROUPS else one.tag
            found.setdefault(path, []).append(one)
    return found


def _links(by_path: dict[str, list[Element]], kind: str) -> tuple[tuple[str, str], ...]:
    return tuple(
        (technique, told if (told := element.get("number", "1")) in _LEVELS else "1")
        for path, technique in LINKS.items()
        for element in by_path.get(path, ())
        if element.get("type") == kind
    )


def _technique(note: Element, by_path: dict[str, list[Element]]) -> str | None:
    head = note.find("notehead")
    if head is not None and (technique := _BY_NOTEHEAD.get((head.text or "").strip())):
        return technique
    if (technique := next((told for path, told in _FLAGS.items() if path in by_path), None)) is not None:
        return technique
    return "ghost" if head is not None and head.get("parentheses") == "yes" else None
