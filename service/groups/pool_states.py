"""How a lick goes from draft to reviewed to the pool and is retired."""

# state: what organisers may decide there, and the state it leads to
MOVES: dict[str, dict[str, str]] = {
    "draft": {"keep": "pool", "reviewed": "reviewed", "back": "draft", "retire": "retired"},
    "reviewed": {"keep": "pool", "back": "draft", "retire": "retired"},
    "pool": {"back": "draft", "retire": "retired"},
    "retired": {"back": "draft"},
}


def leads_to(state: str, decision: str) -> str | None:
    """The state a decision leads to; None if it cannot be taken there."""
    return MOVES[state].get(decision)


def states_before(decision: str) -> tuple[str, ...]:
    """The states in which a decision can be taken."""
    return tuple(state for state, moves in MOVES.items() if decision in moves)


def waits(reviews: bool, state: str | None, sent_back: bool) -> bool:
    """Whether what a member sends in, or changes in this state, is to be looked at by an organiser before it joins the pool.

    What one has looked at already, or sent back, does not pass them by.
    """
    return reviews or state == "reviewed" or sent_back
