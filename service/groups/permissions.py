"""What each role may do: one table."""

ROLES = ("operator", "bot", "organiser", "member")

MAY: dict[str, frozenset[str]] = {
    "read-group": frozenset({"operator", "organiser", "member"}),
    "list-groups": frozenset({"operator"}),
    "make-group": frozenset({"operator", "bot"}),
    "change-group": frozenset({"operator", "organiser"}),
    "change-tunes": frozenset({"operator", "organiser"}),
    "add-lick": frozenset({"operator", "organiser", "member"}),
    "change-licks": frozenset({"operator", "organiser"}),
    "take-licks-down": frozenset({"operator", "organiser"}),
    "draw-break": frozenset({"operator", "organiser", "member"}),
    "read-metrics": frozenset({"operator"}),
}


def may(role: str, action: str) -> bool:
    return role in MAY[action]
