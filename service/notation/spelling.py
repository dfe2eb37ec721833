"""What files name in the sounding key: signature, chords, tones, and lengths as time signatures."""

from service.errors import DomainError
from service.music.harmony import Chord, Key
from service.music.meter import TICKS_PER_WHOLE, Meter
from service.music.pitch import nearest_spelling, pitch_class, sane_spelling
from service.music.scores import Score

MOST_SIGNS = 7  # of a key signature: there are seven letters
_UNITS = (4, 8, 16, 32)  # of a time signature, where the meter's own unit does not go into a measure
_SIGNS = 7  # places on the line of fifths between a letter and its sharp
_OCTAVE = 12
_NATURALS = "FCGDAEB"


def written_key(key: Key) -> Key:
    """The key under its name with at most seven signs: D flat minor is written as C sharp minor."""
    if -MOST_SIGNS <= key.signature <= MOST_SIGNS:
        return key
    return Key(key.tonic + (12 if key.signature < 0 else -12), key.mode)


def sounding_chord(chord: Chord | None, score: Score) -> Chord | None:
    """A chord of the playing position as it is heard behind the capo."""
    return None if chord is None else chord.moved(score.sounding.tonic - score.key.tonic).respelled()


def spelled(pitch: int, key: Key, chord: Chord | None) -> int:
    """Place of a sounding pitch on the line of fifths: as the chord spells it, else as the key does."""
    if chord is not None:
        for place in chord.places:
            if pitch_class(place) == pitch % _OCTAVE and abs(alteration(place)) <= 1:
                return place
    near = nearest_spelling(pitch, key.signature)
    return near if abs(alteration(near)) <= 1 else sane_spelling(near)


def letter(place: int) -> str:
    return _NATURALS[(place + 1) % _SIGNS]


def alteration(place: int) -> int:
    """Sharps (positive) or flats (negative) of a place on the line of fifths."""
    return (place + 1) // _SIGNS


def octave(pitch: int, place: int) -> int:
    """Octave of a spelled pitch, counted as the standard does: middle C (MIDI 60) begins octave 4."""
    return (pitch - alteration(place)) // _OCTAVE - 1


def signature_of(ticks: int, meter: Meter) -> tuple[int, int]:
    """The time signature of a measure of this length: in the meter's own unit where that goes into it.

    Raises DomainError ``no-time-signature`` for a length that is no whole number of 32nds.
    """
    beats, unit = (int(part) for part in meter.name.split("/"))
    if ticks == meter.measure_ticks:
        return beats, unit
    for one in (unit, *(finer for finer in _UNITS if finer > unit)):
        count, rest = divmod(ticks * one, TICKS_PER_WHOLE)
        if not rest:
            return count, one
    raise DomainError("no-time-signature", ticks=ticks)
