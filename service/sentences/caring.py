"""What is said of looking after a pool: review, rights, reports, imports, the swap table."""

# code: (what is the matter, what to do); the second may be empty
SENTENCES: dict[str, tuple[str, str]] = {
    # review
    "waits-for-review": ("It waits for an organiser to look at it.", ""),
    "in-the-pool": ("Lick {lick} is in the pool already.", "What can be decided there: {possible}."),
    "cannot-be-decided": (
        "The state of lick {lick} is {state}: “{decision}” cannot be decided there.",
        "What can be: {possible}.",
    ),
    "reason-needed": ("Whoever sent the lick in wants to know why it comes back.", "Give a reason."),
    "pool-is-reviewed": (
        "Lick {lick} is in the pool, where organisers alone change it.",
        "Ask one to send it back to you.",
    ),
    # rights
    "source-needed": (
        "An adapted lick has a source.",
        "Say in rights.source whose playing or what book it is adapted from, and in rights.year when, if you know.",
    ),
    "may-not-submit": (
        "What you may not share cannot be taken in.",
        "Ask whoever made it, or send in something of your own or traditional.",
    ),
    "author-edits": (
        "Whoever sent lick {lick} in does not want it edited by others.",
        "Ask them to change it, or retire it.",
    ),
    "caution-rights": (
        "Traditional tunes are in the public domain; a recorded solo or a printed arrangement usually is not. Share what "
        "you may share. This is a caution, not legal advice.",
        "",
    ),
    # reports
    "report-answered": ("Report {report} was answered already.", ""),
    "taken-down-at-origin": (
        "Lick {lick} was borrowed from {group}, which has taken it down.",
        "Look whether you should, too.",
    ),
    # the swap table
    "not-to-be-shared": ("Lick {lick} cannot go on the swap table.", "See the places named."),
    "not-in-the-pool": ("Its state is {state}, not pool.", "Put it into the pool first."),
    "no-consent-to-share": (
        "Whoever sent it in has not agreed that other groups may have it.",
        "Ask them to send it in anew with rights.may_share.",
    ),
    "was-borrowed": ("It was borrowed from {group}.", "Its own group shares it."),
    "not-on-the-table": ("Lick {lick} is not on the swap table.", ""),
    "own-on-the-table": ("That is lick {lick} of your own group.", "Borrow what others share."),
    # imports
    "import-whole-group": (
        "That is a whole group, not a folder of licks.",
        "Use POST /v1/imports as operator.",
    ),
    "import-not-a-zip": (
        "The body is not a zip file that can be read.",
        "Send the folder as a zip, with Content-Type: application/zip.",
    ),
    "import-too-large": ("The zip is larger than {most} MiB.", "Send it in parts."),
    "import-too-many": ("There are more than {most} {what} in it.", "Send them in parts."),
    "import-unpacks-too-large": ("It unpacks to more than {most} MiB.", "Send it in parts."),
    "file-too-large": ("The file has more than {most} kB.", "Cut it into several."),
    "file-not-unpacked": ("The file cannot be unpacked.", "Pack it without a password."),
    "odd-path": ("A path like that is not looked at.", "Keep files within the folder."),
    "not-utf-8": ("The file is not text in UTF-8.", "Save it as plain text."),
    "not-toml": (
        "The file is not TOML from here on.",
        "Write a value as name = \"value\", a tab between '''.",
    ),
    "field-missing": (
        "{field} is not given.",
        "Give it in the file, in a defaults.toml beside it, or with the request.",
    ),
    "field-wrong": ("{field} cannot be as it is: {reason}", ""),
    "not-lick-tables": ("[[lick]] has to begin each lick.", "Begin each lick with a line [[lick]]."),
    # why a file is left out
    "no-lick-file": ("Not a file of licks: those end in .toml or .txt.", ""),
    "no-licks-in-it": ("There is no [[lick]] in it.", ""),
    "no-tab-in-it": ("There is no tab in it.", ""),
    "lick-is-there": ("This is lick {lick}.", ""),
}
