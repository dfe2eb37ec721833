"""How one instrument plays a tune: tuning, playing position, capo, fifth-string stop."""

from dataclasses import dataclass, replace

from service.errors import DomainError
from service.music.fretboard import Fretboard
from service.music.harmony import Chord, Key, key_named
from service.music.instruments import Instrument, Tuning
from service.music.pitch import nearest_spelling, pitch_class, tone_name

MAX_CAPO = 11  # common practice, no source: beyond it the shapes no longer fit a hand


@dataclass(frozen=True, slots=True)
class Setting:
    """``position`` is the key the hand thinks in; the capo carries it to the sounding key.

    ``stop`` is the sounding MIDI pitch of the open fifth string, chosen apart from the capo; None on
    instruments without one.
    """

    instrument: Instrument
    tuning: Tuning
    position: Key
    capo: int = 0
    stop: int | None = None

    @property
    def fretboard(self) -> Fretboard:
        return Fretboard(self.instrument, self.tuning, self.capo, self.stop)

    @property
    def fretboard_in_hand(self) -> Fretboard:
        """Without the capo: pitches as the hand thinks of them."""
        return Fretboard(
            self.instrument, self.tuning, 0, None if self.stop is None else self.stop - self.capo
        )

    @property
    def sounding(self) -> Key:
        """The key that is heard."""
        return sounding_key(self.position, self.capo)

    @property
    def stop_fret(self) -> int | None:
        """Fret, counted from the nut, where the fifth string is stopped; 0 if it is open, None without one."""
        short = self.instrument.short_string
        if short is None or self.stop is None:
            return None
        raised = self.stop - self.tuning.pitches[short[0] - 1]
        return 0 if raised == 0 else short[1] + raised

    def behind(self, capo: int | None) -> "Setting":
        """The same shapes with the capo elsewhere, sounding in another key; the fifth string goes along."""
        if capo is None:
            return self
        stop = None if self.stop is None else self.stop + capo - self.capo
        return replace(self, capo=capo, stop=stop)

    def to_position(self, chord: Chord | None, sounding: Key) -> Chord | None:
        """A chord of the sounding key as the hand thinks of it."""
        return None if chord is None else chord.moved(self.position.tonic - sounding.tonic).respelled()


def capo_for(position: Key, sounding: Key) -> int:
    """The fret at which shapes of a position sound in another key. Raises DomainError ``key-of-other-mode``."""
    if position.mode != sounding.mode:
        raise DomainError("key-of-other-mode", key=sounding.name, position=position.name)
    return (pitch_class(sounding.tonic) - pitch_class(position.tonic)) % 12


def sounding_key(position: Key, capo: int) -> Key:
    """The key that shapes of ``position`` sound in behind a capo."""
    return Key(_shift_spelling(position.tonic, capo), position.mode)


def stop_at(fret: int | None, instrument: Instrument, tuning: Tuning) -> int | None:
    """Sounding pitch of the fifth string stopped at a fret counted from the nut (0 is open)."""
    short = instrument.short_string
    if fret is None or short is None or 0 < fret <= short[1]:
        return None
    return tuning.pitches[short[0] - 1] + (fret - short[1] if fret else 0)


def make_setting(
    instrument: Instrument,
    *,
    tuning: str | None,
    sounding: Key,
    position: str | None = None,
    capo: int = 0,
    stop: int | None = None,
) -> Setting:
    """A setting that sounds in ``sounding``.

    Without a position it is the sounding key lowered by the capo. Without a stop the fifth string goes
    up with the capo, which is the usual choice. Raises DomainError ``capo-out-of-reach`` or
    ``position-does-not-sound`` (position and capo do not add up to the key), ``stop-out-of-reach``.
    """
    if not 0 <= capo <= MAX_CAPO:
        raise DomainError("capo-out-of-reach", capo=capo, most=MAX_CAPO)
    if position is None:
        place = nearest_spelling((sounding.tonic_class - capo) % 12, 1)
        thinks_in = Key(place, sounding.mode)
    else:
        thinks_in = key_named(position)
    heard = (pitch_class(thinks_in.tonic) + capo) % 12
    if heard != sounding.tonic_class or thinks_in.mode != sounding.mode:
        raise DomainError(
            "position-does-not-sound",
            position=thinks_in.name,
            capo=capo,
            heard=tone_name(nearest_spelling(heard, 1)),
            key=sounding.name,
            right_capo=(sounding.tonic_class - pitch_class(thinks_in.tonic)) % 12,
        )
    chosen = instrument.tuning(tuning)
    short = instrument.short_string
    if short is None:
        if stop is not None:
            raise DomainError("no-fifth-string", instrument=instrument.name)
    else:
        unstopped = chosen.pitches[short[0] - 1]
        stop = unstopped + capo if stop is None else stop
        if not unstopped <= stop <= unstopped + MAX_CAPO:
            raise DomainError("stop-out-of-reach", stop=stop, low=unstopped, high=unstopped + MAX_CAPO)
    return Setting(instrument, chosen, thinks_in, capo, stop)


def _shift_spelling(place: int, semitones: int) -> int:
    # the plainest name of the new tonic: fewest sharps or flats
    return min(
        (p for p in range(-6, 7) if pitch_class(p) == (pitch_class(place) + semitones) % 12),
        key=lambda p: (abs(p), -p),
    )
