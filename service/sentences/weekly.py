"""What is said of challenges, variations, votes, and what the chat posts of them."""

# code: (what is the matter, what to do); the second may be empty
SENTENCES: dict[str, tuple[str, str]] = {
    "challenge-under-way": (
        "A challenge is {state} already.",
        "Close that one first, or set this one for next-week.",
    ),
    "no-challenge-open": ("No challenge is open just now.", "An organiser can set one."),
    "challenge-not-open": (
        "Challenge {challenge} is not open.",
        "Look at its round-up, or at the one that is open.",
    ),
    "not-under-way": ("Challenge {challenge} is over.", ""),
    "not-closed": ("Challenge {challenge} has not closed yet.", "Its round-up comes when it does."),
    "lick-not-in-the-pool": ("Lick {lick} is not in the pool.", "Choose another one, or review it first."),
    "other-instrument": (
        "Lick {lick} is not for the {instrument}.",
        "Choose one that is, or name its instrument.",
    ),
    "phrase-length": (
        "Measures of the phrase: {chords}; of the variation: {lick}.",
        "A comma ends a measure, - holds a note on.",
    ),
    "refused-before": ("The same was refused in this challenge.", "Change something, or ask an organiser."),
    "entries-enough": ("{most} variations of one member are enough for a challenge.", "Withdraw one first."),
    "twin-variation": (
        "This is variation {variation}, note for note.",
        "Change something, and it is yours.",
    ),
    "not-yours": ("That {what} is somebody else's.", "You can change your own."),
    "own-variation": ("That variation is your own.", "Vote for those of others."),
    "not-entered": ("Variation {variation} is not in the challenge.", ""),
    "cannot-review": ("Variation {variation} is {state}; that cannot be decided now.", ""),
    "pooled-already": ("It is in the pool already, as lick {lick}.", ""),
    "no-tab-yet": ("Nobody has written that recording down yet.", "Send its tab first."),
    "no-recording": (
        "That is no sound this service knows.",
        "Send MP3, M4A, Ogg, WebM, FLAC, WAV, AAC or AMR.",
    ),
    "recordings-full": (
        "The group keeps {most} MiB of recordings already.",
        "Withdraw some, or ask whoever runs the service for more room.",
    ),
    # the outbox
    "sent-already": (
        "That post was sent already, as message {message_id}.",
        "Delete the second message.",
    ),
    "not-claimed": ("Post {post} was not claimed.", "Claim it first with POST /v1/outbox/claims."),
    "post-challenge": (
        "Challenge {challenge}: {tune_name}, part {part}, phrase {place} ({role}), over {chords}. Until {until}.",
        "",
    ),
    "post-challenge-over": ("Challenge {challenge}, {tune_name}, is over.", ""),
    "post-reminder": (
        "Challenge {challenge}, {tune_name}, is open until {until}. Variations so far: {entries}.",
        "",
    ),
    "post-round-up": ("Challenge {challenge}, {tune_name}, is over. Variations: {entries}.", ""),
    "post-variation": ("Variation {variation} for challenge {in_challenge}: {name}, by {by_name}.", ""),
    "post-lesson": (
        "{by_name} has set you something until {due}: {piece}. It is between the two of you.",
        "",
    ),
    "post-practice": (
        "To try without the tab when it suits you: {pieces}. Stop when it is enough, or if anything hurts.",
        "",
    ),
    "post-goals": ("Aim for {unit} = {easiest} to {hardest}, and go up only after clean passes.", ""),
    "post-standing": ("{rank}. {name}, by {by_name}: {votes}", ""),
    "post-channel-trouble": (
        "A post could not be brought into the group's channel ({reason}).",
        "Choose another channel in the group's settings, or let the bot write there.",
    ),
    "post-nothing-to-draw": (
        "No challenge could be drawn for {group}: it has no tune that its instrument can play.",
        "Add a tune, or set a challenge by hand.",
    ),
}
