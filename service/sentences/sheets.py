"""What stands on pictures and sheets beside the music, and what is said of sound."""

# code: (what is said, what to do); the second may be empty
SENTENCES: dict[str, tuple[str, str]] = {
    # how an instrument is set up, a line of short parts
    "sheet-key": ("key of {key}", ""),
    "sheet-instrument": ("{instrument}, {tuning}", ""),
    "sheet-position": ("{key} position", ""),
    "sheet-capo": ("capo {fret}", ""),
    "sheet-stop": ("fifth string at {fret}", ""),
    "sheet-stop-open": ("fifth string open", ""),
    "sheet-level": ("level {level}", ""),
    "sheet-order": ("played {order}", ""),
    "sheet-break": ("break {code}", ""),
    "sheet-hidden": ("Phrase {phrase} is hidden.", ""),
    "sheet-loop": ("{tune}, phrases {before} and {phrase}", ""),
    "sheet-bold": ("Bold frets carry the tune.", ""),
    "sheet-page": ("page {page} of {pages}", ""),
    "sheet-phrase": ("Phrase {phrase}: part {part}, measures {first} to {last}, {role}", ""),
    "sheet-stock-empty": ("No lick fills this phrase yet.", ""),
    "sheet-stock": ("{tune}: licks by phrase", ""),
    "sheet-kick-off": ("Kick-off", ""),
    "sheet-ending": ("Ending", ""),
    "sheet-backup": ("Backup: {pattern}", ""),
    "sheet-contents": ("Tonight", ""),
    # roles
    "role-opener": ("opener", ""),
    "role-body": ("body", ""),
    "role-set-up": ("set-up", ""),
    "role-tag": ("tag", ""),
    # where it comes from
    "credit-tune-traditional": ("Tune: traditional.", ""),
    "credit-tune-own": ("Tune by {credit}.", ""),
    "credit-tune-adapted": ("Tune adapted from {source}.", ""),
    "credit-licks": ("Licks by {credits}.", ""),
    "credit-lick-adapted": ("Lick {lick} is adapted from {source}.", ""),
    "credit-adapted": ("Adapted from {source}.", ""),
    "credit-licences": ("Licence: {licences}.", ""),
    "credit-caution": (
        "An arrangement may have rights of its own: share it where you may. Local rules come first.",
        "",
    ),
    # files
    "no-such-file": ("There is no “{what}” here.", "Ask for one of {known}."),
    "no-such-page": ("There is no page {page}.", "Count from 1 to {pages}."),
    "no-such-measure": ("There is no measure {measure}.", "Count from 1 to {measures}, repeats written out."),
    "bad-range": ("The file has {length} bytes, none of them in that range.", "Ask for bytes within it."),
    "capo-takes-frets": (
        "With the capo at {capo} the neck has no fret {fret} on string {string} any more.",
        "Put the capo lower.",
    ),
    "key-of-other-mode": (
        "Shapes of {position} do not sound in {key}, whatever the capo.",
        "Choose a key of the same mode.",
    ),
    "capo-or-key": ("Both a capo and a key are asked for.", "Leave one of them out."),
    "bad-player": ("“{player}” does not say who plays which break.", "Write NAME:CODE, as in Wren:7P5MNCRY."),
    # cautions with sound
    "caution-hearing": (
        "Keep it so quiet that a talk beside you is easy; software cannot know the level at your ear "
        "(NIOSH 98-126: 8 hours a day at 85 dBA, half of that for each 3 dB more).",
        "",
    ),
    "caution-playing": (
        "Warm up, rest between rounds, stop at pain or numbness and see a clinician.",
        "",
    ),
}
