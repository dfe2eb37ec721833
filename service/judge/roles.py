"""What part in a tune does a lick seem made for?"""

from service.judge.melody import strong_places
from service.judge.rules import LANDING_AIR
from service.music.licks import Lick

DOMINANTS = (7, 10)  # semitones above the tonic: V, and bVII going home


def seeming_role(lick: Lick) -> str:
    """``tag``: comes home to the tonic on a strong place and leaves air; ``set-up``: ends on V or bVII and goes on;
    ``opener``: begins at home with a pickup or the tonic on beat 1; else ``body``. Common practice, no source."""
    tonic = lick.key.tonic_class
    degrees = [
        None if change.chord is None else (change.chord.family[0] - tonic) % 12 for change in lick.changes
    ]
    sounds = lick.sounding()
    air = lick.notes[-1].onset < lick.ticks - LANDING_AIR * lick.meter.slot_ticks
    last_measure = (lick.ticks - 1) // lick.meter.measure_ticks * lick.meter.measure_ticks
    strong = strong_places(lick.meter, lick.ticks)
    lands = any(
        onset >= last_measure and onset in strong and pitch % 12 == tonic for onset, _, pitch in sounds
    )
    if degrees[-1] == 0 and lands and air:
        return "tag"
    if degrees[-1] in DOMINANTS:
        return "set-up"
    begins = lick.notes[0].onset < 0 or any(onset == 0 and pitch % 12 == tonic for onset, _, pitch in sounds)
    return "opener" if degrees[0] == 0 and begins else "body"
