"""Words of the trade and of the service that are filled into sentences, by the parameter that holds them.

English needs none of this: a parameter is shown as it is. In other languages a value that stands here is said in that
language; any other, such as a name that a player gave or a value to be typed back, stays.
"""

_ROLES = ("opener", "body", "set-up", "tag")
_TUNINGS = (
    "open G", "C", "double C", "sawmill", "open D", "standard", "drop D",
    "open G (gDGBD)", "C (gCGBD)", "double C (gCGCD)", "sawmill (gDGCD)", "open D (f#DF#AD)", "standard (EADGBE)",
    "drop D (DADGBE)", "standard (GDAE)", "open G (GBDGBD)", "standard (gCEA)", "standard (EADG)",
)  # fmt: skip
_TECHNIQUES = ("hammer-on", "pull-off", "slide")

# parameter: the words it may hold
WORDS: dict[str, tuple[str, ...]] = {
    "role": _ROLES,
    "wished": _ROLES,
    "unit": ("half", "quarter", "dotted quarter", "eighth"),
    "instrument": (
        "five-string banjo", "banjo", "guitar", "mandolin", "fiddle", "resonator guitar", "resonator-guitar", "ukulele",
        "upright bass", "upright-bass",
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
    "measures": ("and",),
    # of an error as a whole
    "title": (
        "Bad request", "Busy", "Cannot be used as it is", "Changed since", "Conflict", "Erased", "Error", "Internal error",
        "Method not allowed", "No such range", "Not allowed", "Not found", "Not signed in", "Revision needed", "Taken down",
        "Too large", "Too many requests", "Unsupported media type",
    ),
}  # fmt: skip
