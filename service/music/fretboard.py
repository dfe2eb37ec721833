"""From string and fret to pitch and back.

Frets count from the capo on every string. The banjo's fifth string is counted like its
neighbours: 0 is open, and the first fret that shortens it is 6, one past where it begins.
"""

from dataclasses import dataclass

from service.music.instruments import Instrument, Tuning


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """Where a pitch lies: string 1 is the top row of the tab, fret 0 is open."""

    string: int
    fret: int


@dataclass(frozen=True, slots=True)
class Fretboard:
    """An instrument in a tuning with a capo; ``stop`` is the sounding pitch of the open short string.

    Without a stop the short string sounds as it is tuned, moved up with the capo.
    """

    instrument: Instrument
    tuning: Tuning
    capo: int = 0
    stop: int | None = None

    def sings(self, string: int) -> bool:
        """Whether a string carries a melody: not a short one that is stopped, which sounds otherwise with other tunes."""
        short = self.instrument.short_string
        if short is None or string != short[0] or self.stop is None:
            return True
        return self.stop == self.tuning.pitches[string - 1] + self.capo

    def refuses(self, string: int, fret: int) -> str | None:
        """Why there is no such place: ``no-such-string``, ``no-such-fret``, ``under-the-stop``, or None."""
        if not 1 <= string <= self.instrument.strings:
            return "no-such-string"
        if not 0 <= fret <= self.instrument.frets - self.capo:
            return "no-such-fret"
        short = self.instrument.short_string
        if short and string == short[0] and 0 < fret <= short[1]:
            return "under-the-stop"
        return None

    def pitch(self, string: int, fret: int) -> int:
        """Sounding MIDI pitch. The place must exist (see ``refuses``)."""
        open_pitch = self.tuning.pitches[string - 1]
        short = self.instrument.short_string
        if short and string == short[0]:
            if fret == 0:
                return open_pitch + self.capo if self.stop is None else self.stop
            return open_pitch + self.capo + fret - short[1]
        return open_pitch + self.capo + fret

    def places(self, pitch: int) -> tuple[Place, ...]:
        """Every place of a pitch, string 1 first."""
        found: list[Place] = []
        for string in range(1, self.instrument.strings + 1):
            candidates = [0, pitch - self.capo - self.tuning.pitches[string - 1]]
            short = self.instrument.short_string
            if short and string == short[0]:
                candidates[1] += short[1]
            for fret in dict.fromkeys(candidates):
                if self.refuses(string, fret) is None and self.pitch(string, fret) == pitch:
                    found.append(Place(string, fret))
        return tuple(found)
