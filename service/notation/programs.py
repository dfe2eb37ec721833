"""General MIDI sounds for the house's instruments, counted from 1 as the standard does."""

from service.music.instruments import Instrument

_NYLON, _STEEL = 25, 26  # guitars, published: General MIDI level 1
# Published: General MIDI level 1, which knows a banjo, two plain guitars, a fiddle and an acoustic bass. It has no mandolin
# and no resonator guitar; nearest, by ear and ours: steel strings for both, nylon ones for the ukulele.
_PROGRAMS = {
    "banjo": 106,
    "guitar": _STEEL,
    "mandolin": _STEEL,
    "fiddle": 111,
    "resonator-guitar": _STEEL,
    "ukulele": _NYLON,
    "upright-bass": 33,
}


def program_of(instrument: Instrument) -> int:
    """1 to 128."""
    return _PROGRAMS.get(instrument.id, _STEEL)
