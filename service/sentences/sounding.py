"""What is said of sound that cannot be made as asked."""

# code: (what is the matter, what to do); the second may be empty
SENTENCES: dict[str, tuple[str, str]] = {
    "nothing-to-play": ("There is nothing to play.", "Give at least one part with a measure, and one round."),
    "parts-differ": ("The parts ({parts}) do not have the same measures.", "Give all of them the same form."),
    "tempo-out-of-range": ("{bpm} beats a minute cannot be played.", "Use {low} to {high}."),
    "too-many-rounds": (
        "That makes {rounds} rounds.",
        "Use {most} at most: larger steps, or fewer times each.",
    ),
    "too-long": ("That would last longer than {most} minutes.", "Play fewer rounds, or faster."),
    "bad-work-up": (
        "A work-up has a step and a number of rounds at each tempo.",
        "Give whole numbers above 0.",
    ),
    "count-in-too-long": ("A count-in cannot have {measures} measures.", "Use 0 to {most}."),
    "bad-swing": ("Swing is a number from 0 (even) to 1 (triplets), not {swing}.", "Use .5 for a light one."),
    "shift-too-far": ("The key cannot be moved by {semitones} semitones.", "Use {most} at most, up or down."),
    "unknown-sound-file": ("“{name}” is no kind of sound file made here.", "Use one of {known}."),
    "limit-too-small": ("No sound fits into {kib} KiB.", "Allow at least {least} KiB a file."),
    "no-such-player": ("No part is called “{name}”.", "Use one of {known}."),
}
