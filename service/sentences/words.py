"""Words of the trade and of the service that are filled into sentences, by the parameter that holds them.

English needs none of this: a parameter is shown as it is. In other languages a value that stands here is said in that
language; any other, such as a name that a player gave or a value to be typed back, stays.
"""

from service.music.backup_patterns import pattern_names
from service.music.instruments import all_instruments
from service.music.licks import ROLES
from service.music.tunes import UNIT_TICKS

# an instrument's tunings are shown with their strings and without
_TUNINGS = tuple(
    dict.fromkeys(
        text
        for instrument in all_instruments()
        for tuning in instrument.tunings
        for text in (tuning.name, tuning.name.split(" (")[0])
    )
)
_TECHNIQUES = ("hammer-on", "pull-off", "slide")

# parameter: the words it may hold
WORDS: dict[str, tuple[str, ...]] = {
    "role": ROLES,
    "wished": ROLES,
    "unit": tuple(UNIT_TICKS),
    "instrument": tuple(
        dict.fromkeys(text for instrument in all_instruments() for text in (instrument.name, instrument.id))
    ),
    "tuning": _TUNINGS,
    "value": (*_TUNINGS, "same", "different"),
    "finger": ("index", "middle", "ring", "little"),
    "written": _TECHNIQUES,
    "read": _TECHNIQUES,
    "state": (
        "draft", "reviewed", "pool", "retired",
        "planned", "open", "closed", "cancelled",
        "held", "entered", "refused", "withdrawn",
    ),
    "what": (
        "break", "challenge", "evening", "files", "group", "invitation", "lesson", "lick", "lick on the swap table", "licks",
        "mark of that day", "member", "member's practice", "post", "practice log", "recording", "report", "revision",
        "token", "tune", "tune on that list", "variation",
        "how far it is choked", "release", "vibrato",
    ),
    "field": ("A field",),
    "reason": (
        "a JSON body is needed.", "it ended early.", "it is nested too deeply.", "it is not of the documented shape.",
        "it is not text in UTF-8.", "it took too long to come.",
    ),
    "pattern": tuple(dict.fromkeys(name for instrument in all_instruments() for name in pattern_names(instrument.id))),
    "measures": ("and",),
    # of an error as a whole
    "title": (
        "Bad request", "Busy", "Cannot be used as it is", "Changed since", "Conflict", "Erased", "Error", "Internal error",
        "Method not allowed", "No such range", "Not allowed", "Not found", "Not signed in", "Revision needed", "Taken down",
        "Too large", "Too many requests", "Unsupported media type",
    ),
}  # fmt: skip
