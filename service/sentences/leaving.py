"""What is said where somebody or a whole group goes, or comes from elsewhere."""

# code: (what is the matter, what to do); the second may be empty
SENTENCES: dict[str, tuple[str, str]] = {
    "former-member": ("Former member {number}", ""),
    "erased": ("Lick {lick} was erased with whoever sent it in.", "Use another one."),
    "for-them-alone": ("What is known of member {member} is for them alone.", "Ask for your own."),
    "confirm-first": (
        "That deletes {group} with everything in it, for good.",
        "Ask for its copy first (GET .../export), then send confirm={group} along.",
    ),
    "no-copy": (
        "That is no copy of a group.",
        "Send a zip as GET /v1/groups/GROUP/export makes it, with its group.json.",
    ),
    "other-version": (
        "The copy is of version {version}, and {known} is known here.",
        "Have it made by a release that writes version {known}, or import it into the release it came from.",
    ),
    "unpacks-too-large": (
        "The copy unpacks to more than {most} bytes or {files} files.",
        "Whoever runs the service can raise BREAKWRIGHT_GROUP_IMPORT_MIB.",
    ),
    "bad-import": ("The copy cannot be used as it is.", "See the places named; nothing was kept."),
    "file-unknown": ("No copy has a file of this name.", "Take it out of the zip."),
    "file-missing": ("It is named in {place} and is not there.", "Put it in, or leave out what names it."),
    "file-unreadable": ("It is damaged, or no JSON.", "Make the copy again."),
    "not-of-its-form": (
        "It has not the form that it has in a copy.",
        "Compare it with a copy of this release: no field more, none less.",
    ),
    "no-time": ("“{value}” is no time as copies have it.", "Write it as 2026-11-02T18:00:00Z."),
    "refers-to-none": ("It refers to {name}, which the copy does not have.", "Put that in, or leave this out."),
    "row-refers-to-none": ("Its {column} names something that the copy does not have.", "Put that in, or leave this out."),
    "row-twice": ("There is another of the same number or name before it.", "Leave one of them out."),
    "row-missing": ("A field is null that must not be.", "Compare it with a copy of this release."),
    "row-not-allowed": ("A field has a value that it cannot have.", "Compare it with a copy of this release."),
}  # fmt: skip
