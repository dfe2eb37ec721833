"""What is said of groups, their people and tokens."""

# code: (what is the matter, what to do); the second may be empty
SENTENCES: dict[str, tuple[str, str]] = {
    "acting-not-allowed": (
        "This token may not act for others.",
        "Leave On-Behalf-Of out, or use a bot's token.",
    ),
    "bad-acting": (
        "{header} does not say for whom.",
        "Send platform:user, as in On-Behalf-Of: chat:1234, and the server as Acting-Server.",
    ),
    "no-member": (
        "This token belongs to no member.",
        "Use one that was made for a member: breakwright token --role member --group GROUP --member NAME.",
    ),
    "no-user": ("Only somebody in the group's chat can join this way.", "Ask an organiser to add you."),
    "no-such-invitation": ("That invitation lets nobody in any more.", "Ask an organiser for a new one."),
    "invited-only": ("This group lets in whom it invited.", "Ask an organiser for an invitation."),
    "last-organiser": (
        "Nobody would be left to organise the group.",
        "Make somebody else an organiser first.",
    ),
    "beyond-own-scopes": (
        "Your token cannot give what it does not hold: it is held to {scopes}.",
        "Ask for less, or use a token that is held to nothing.",
    ),
    "last-operator": ("That is the last operator token.", "Make another one first."),
    "not-joined": ("You have not joined this group yet.", "Join it first."),
    "not-your-token": (
        "Member {member} is in the chat, and what is theirs is seen there by them alone.",
        "An operator can make a token for them; you can for members on no platform.",
    ),
    "not-an-organiser": (
        "Member {member} is no organiser.",
        "Make them one first, or make a member's token.",
    ),
    "bad-server": ("The server is not fully named.", "See the place named."),
    "server-in-two": (
        "A server is named by its platform and its id.",
        "Give platform and server_id, both or neither.",
    ),
    "bad-settings": ("The settings cannot be used as they are.", "See the places named."),
    "no-such-zone": (
        "“{zone}” is no time zone.",
        "Use a name of the IANA time zone database, as Europe/Lisbon or America/Chicago.",
    ),
    "levels-apart": ("The least level is above the most.", "Give the lower level first."),
}
