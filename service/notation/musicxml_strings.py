"""What a tab staff is strung with, and which frets its numbers mean.

Files differ: the numbers of a short string count from where it begins or like its neighbours', pitches are those that sound or
those without the capo, an octave up or down. What most notes agree on is taken.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from service.errors import Fault, ReadingError
from service.music.fretboard import Fretboard
from service.music.harmony import Chord
from service.music.instruments import Instrument, Tuning
from service.music.pitch import nearest_spelling, tone_name
from service.music.setting import MAX_CAPO
from service.notation.musicxml_staff import StaffNote, StaffReader
from service.notation.readings import Assumption

_OCTAVE = 12
_FARTHEST = 2 * _OCTAVE  # that pitches are written from where they sound; ours
_TUNED_IN = 0  # open strings are named as in C

Placed = tuple[StaffNote, int]  # a note with its fret as the hand counts


@dataclass(slots=True)
class Strung:
    """``offset`` is how far written pitches lie above those of ``fretboard``, in semitones; ``moved`` the capo where key and chords
    are written as they sound, else 0."""

    fretboard: Fretboard
    offset: int = 0
    moved: int = 0
    _apart: list[int] = field(default_factory=list)  # measures of notes whose pitch is not their fret's
    _from_peg: bool = False

    def in_hand(self, chord: Chord | None) -> Chord | None:
        """A chord of the file as the hand thinks of it."""
        if chord is None or not self.moved:
            return chord
        return chord.moved(-7 * self.moved).respelled()

    def placed(self, notes: Sequence[StaffNote], number: int, faults: list[Fault]) -> list[Placed]:
        """Notes with their frets as the hand counts; a note without one, or off the neck, is a fault."""
        found = []
        for note in notes:
            fret = self._fret(note)
            refusal = None if fret is None else self.fretboard.refuses(note.string, fret)
            if fret is None:
                faults.append(Fault("lick-no-fret", {"string": note.string}, measure=number))
            elif refusal is not None:
                faults.append(Fault(refusal, {"string": note.string, "fret": fret}, measure=number))
            else:
                if note.technique != "mute" and note.pitch not in (None, self._sounds(note, fret)):
                    self._apart.append(number)
                found.append((note, fret))
        return found

    def remarks(self) -> list[Fault]:
        """What there is to say once all notes are placed."""
        found = []
        if self.moved:
            found.append(Fault("lick-moved-by-capo", {"capo": self.moved}))
        if self._apart:
            found.append(Fault("lick-pitch-apart", {"notes": len(self._apart)}, measure=min(self._apart)))
        if self._from_peg:
            found.append(Fault("fifth-from-peg"))
        return found

    def _fret(self, note: StaffNote) -> int | None:
        if note.technique == "mute":
            return 0
        short = self.fretboard.instrument.short_string
        if short is None or note.string != short[0] or note.fret == 0:
            return note.fret
        first = short[1] + 1
        if note.fret is None:  # below where it is stopped a short string has no number
            return None if note.pitch is None else first + note.pitch - self._sounds(note, first)
        stopped = 1 + self.fretboard.pitch(short[0], 0) - self.fretboard.pitch(short[0], first)
        ways = [note.fret, note.fret + short[1], note.fret + short[1] + stopped]
        ways = [fret for fret in ways if self.fretboard.refuses(note.string, fret) is None]
        for fret in ways:
            if self._sounds(note, fret) == note.pitch:
                return fret
        if note.fret <= short[1] and ways:  # as in text tab
            self._from_peg = True
            return note.fret + short[1]
        return note.fret

    def _sounds(self, note: StaffNote, fret: int) -> int:
        return self.fretboard.pitch(note.string, fret) + self.offset


def strung(
    read: StaffReader,
    instrument: Instrument,
    asked: str | None,
    parts: list[Assumption],
    remarks: list[Fault],
) -> Strung:
    """The instrument as the file has it. Raises ReadingError where its strings are others; DomainError ``unknown-tuning``."""
    tuning = instrument.tuning(asked) if asked else None
    if read.tuned and len(read.tuned) != instrument.strings:
        told: dict[str, object] = {
            "found": len(read.tuned),
            "instrument": instrument.name,
            "strings": instrument.strings,
        }
        raise ReadingError([Fault("lick-strings", told)])
    known, octaves = _known(read.tuned, instrument) if read.tuned else (None, 0)
    if tuning is None:
        tuning = known or instrument.tuning()
        if read.tuned and known is None:
            known_here = ", ".join(one.id for one in instrument.tunings)
            raise ReadingError([Fault("lick-tuning", {"found": _spelled(read.tuned), "known": known_here})])
        if known is None and len(instrument.tunings) > 1:
            parts.append(Assumption("tuning", tuning.name))
    elif read.tuned and known is not tuning:
        said = known.id if known else _spelled(read.tuned)
        remarks.append(Fault("overruled", {"said": said, "used": tuning.id}))
    capo = read.capo
    if capo > MAX_CAPO:
        remarks.append(Fault("capo-out-of-reach", {"capo": capo, "most": MAX_CAPO}))
        capo = 0
    stop = None
    if instrument.short_string and known is tuning:
        stop = _stop(read.tuned[instrument.short_string[0] - 1] - octaves, capo, instrument, tuning)
    board = Fretboard(instrument, tuning, capo, stop)
    offset = _offset([note for notes in read.written for note in notes], board)
    return Strung(board, offset, 0 if (offset + capo) % _OCTAVE == 0 else capo)


def _known(tuned: Sequence[int], instrument: Instrument) -> tuple[Tuning | None, int]:
    """The tuning of these long strings, and how many semitones of octaves above it they are written."""
    short = instrument.short_string
    for tuning in instrument.tunings:
        above = {
            pitch - own
            for string, (pitch, own) in enumerate(zip(tuned, tuning.pitches, strict=True), 1)
            if short is None or string != short[0]
        }
        if len(above) == 1 and (octaves := above.pop()) % _OCTAVE == 0:
            return tuning, octaves
    return None, 0


def _stop(open_string: int, capo: int, instrument: Instrument, tuning: Tuning) -> int | None:
    """The sounding pitch of a short string that does not go up with the capo."""
    if instrument.short_string is None:
        return None
    stop, own = open_string + capo, tuning.pitches[instrument.short_string[0] - 1]
    return stop if own <= stop <= own + MAX_CAPO and stop != own + capo else None


def _offset(notes: Sequence[StaffNote], board: Fretboard) -> int:
    """How far most pitches of long strings are written from where they sound: by octaves, or without the capo; else 0."""
    short = board.instrument.short_string
    found = Counter(
        note.pitch - board.pitch(note.string, note.fret)
        for note in notes
        if note.pitch is not None
        and note.fret is not None
        and note.technique != "mute"
        and (short is None or note.string != short[0])
        and board.refuses(note.string, note.fret) is None
    )
    offset = found.most_common(1)[0][0] if found else 0
    usual = offset % _OCTAVE in (0, -board.capo % _OCTAVE)
    return offset if usual and abs(offset) <= _FARTHEST else 0


def _spelled(tuned: Sequence[int]) -> str:
    """Open strings by their letters, the lowest line first."""
    return " ".join(tone_name(nearest_spelling(pitch, _TUNED_IN)) for pitch in reversed(tuned))
