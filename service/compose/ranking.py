"""Which licks go first where several fit a phrase."""

from service.compose.lattice import Candidate

# Shares of a candidate's score. Ours: a lick that belongs, and recalls the tune, before one that only fits the role.
RANK = {"fit": 0.4, "melody": 0.3, "role": 0.15, "clean": 0.15}


def score(candidate: Candidate) -> float:
    """How well a lick suits a phrase, 0..1."""
    return (
        RANK["fit"] * candidate.fit
        + RANK["melody"] * candidate.recall
        + RANK["role"] * candidate.role_agrees
        + RANK["clean"] * (not candidate.broken)
    )


def ranked(candidates: tuple[Candidate, ...]) -> list[Candidate]:
    """Best first; where two are alike the easier, then the smaller number."""
    return sorted(candidates, key=lambda c: (-round(score(c), 6), c.level, c.number))
