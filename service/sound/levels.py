"""How loud each stroke is, how loud each player, and where they stand.

All numbers are ours. What the melody has over the rest is asked for: 4 dB at least, drone and fill alike.
"""

import math

from service.music.timeline import Event, Part

# Where a melody is known, accents are small, so that no weak melody note sinks to a strong fill note.
MELODY_DB = 0.0
FILL_DB = -7.0
MELODY_ACCENT_DB = 0.25  # lost with each halving of the metrical weight
ACCENT_DB = 1.25  # the same where no melody is known: the beat alone shapes the line
LEAST_WEIGHT = 1 / 16  # of an onset between slots

# Against a picked note: where it carries the melody, where it fills around one (and is soft already), and where no
# melody is known.
TECHNIQUE_DB = {
    "hammer-on": (-1.0, -2.5, -5.0),
    "pull-off": (-1.0, -2.0, -4.0),
    "slide": (-1.0, -2.0, -3.0),
    "ghost": (-1.0, -6.0, -9.0),
    "mute": (-1.0, -3.0, -5.0),
    "choke": (0.0, 0.0, 0.0),
}

# Players against a lead. The ear takes lows for softer than they are, so a bass is not as far down as it looks.
PLAYER_DB = {
    "upright-bass": -4.0,
    "guitar": -8.0,
    "mandolin": -10.0,
    "banjo": -9.0,
    "fiddle": -10.0,
    "resonator-guitar": -9.0,
    "ukulele": -9.0,
}
_OTHER_PLAYER_DB = -9.0
CLICK_DB = -4.0  # of its peak, against a lead's

# Share from left (-1) to right (1) of the players beside the lead, in turn; the lead and a bass stand in the middle.
PLACES = (-0.5, 0.5, -0.25, 0.25)


def stroke_db(event: Event, has_melody: bool) -> float:
    """Level of a stroke against its player's loudest."""
    halvings = -math.log2(max(event.weight, LEAST_WEIGHT))
    carries = has_melody and event.melody
    column = 0 if carries else 1 if has_melody else 2
    technique = TECHNIQUE_DB[event.technique][column] if event.technique else 0.0
    if not has_melody:
        return technique - ACCENT_DB * halvings
    return (MELODY_DB if carries else FILL_DB) + technique - MELODY_ACCENT_DB * halvings


def touch(db: float) -> int:
    """Which of the three touches a stroke of this level is made with."""
    return 2 if db > -2.5 else 1 if db > -7.5 else 0


def player_db(part: Part) -> float:
    return 0.0 if part.lead else PLAYER_DB.get(part.passage.instrument.id, _OTHER_PLAYER_DB)


def places(parts: tuple[Part, ...]) -> tuple[float, ...]:
    """Where each player stands."""
    turn = iter(PLACES * len(parts))
    return tuple(
        0.0 if part.lead or part.passage.instrument.id == "upright-bass" else next(turn) for part in parts
    )


def panned(place: float) -> tuple[float, float]:
    """Left and right gains of equal power."""
    angle = (place + 1) * math.pi / 4
    return math.cos(angle), math.sin(angle)
