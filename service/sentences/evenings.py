"""What is said of members' lists, evenings, lessons and practice."""

# code: (what is the matter, what to do); the second may be empty
SENTENCES: dict[str, tuple[str, str]] = {
    "own-list": ("That list is somebody's own.", "Members on a platform keep their own lists."),
    "word-in-use": ("“{slug}” has a meaning of its own here.", "Choose another short name."),
    "day-to-come": ("{day} has not come yet: it is {today} where the group is.", "Name a day up to today."),
    "bad-evening": ("The evening cannot be kept as it is. Things to mend: {count}.", "See each place."),
    "evening-tune": ("The group has no tune “{tune}”.", "Use the short name of one on its list."),
    "evening-member": ("The group has no member {member}.", "Use the number of one who has not left."),
    "player-twice": ("Member {member} is named twice.", "Name each player once, with one instrument."),
    "own-lesson": ("That lesson is another member's.", "Whose it is shares it and says that it is done."),
    "what-piece": (
        "It does not say what is practised.",
        "Give a lick, or a break, with a phrase for its loop.",
    ),
    "nothing-to-plot": (
        "Tempos of different things do not belong in one picture.",
        "Ask for one lick, or for one break, with a phrase for its loop.",
    ),
    # what comes next
    "work-up-begin": ("Begin at {unit} = {bpm}.", ""),
    "work-up-stay": ("Stay at {unit} = {bpm} until it is clean three times running.", ""),
    "work-up-step-up": ("Clean three times running: next is {unit} = {bpm}.", ""),
    "work-up-goal-reached": (
        "Clean three times running at {unit} = {bpm}, which is as fast as it need be.",
        "",
    ),
    "work-up-ease-off": ("Go back to {unit} = {bpm} and let it become easy there.", ""),
    "work-up-come-back": ("After a pause, come back at {unit} = {bpm}.", ""),
    # the picture of progress
    "plot-lick": ("Lick {lick}", ""),
    "plot-break": ("Break {code}", ""),
    "plot-loop": ("Break {code}, loop of phrase {phrase}", ""),
    "plot-note": ("Clean passes in {unit} notes a minute, the best so far as a line", ""),
    "plot-empty": ("No clean pass is logged.", ""),
    "plot-alt": (
        "{title}: clean passes from {first} to {last}. The best was {low} at first and is {high} at the last, in {unit} "
        "notes a minute.",
        "",
    ),
    # cautions with practice
    "caution-long-day": (
        "{minutes} minutes are logged for that day. Rest between rounds, stop at pain or numbness and see a clinician.",
        "",
    ),
}
