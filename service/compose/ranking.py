"""Which licks go first where several fit a phrase."""

from collections.abc import Iterable

from service.compose.stock import Candidate
from service.judge.level import LEVELS

# Shares of a candidate's score. Ours: a lick that belongs, and recalls the tune, before one that only fits the role; of two
# that are nearly alike the easier.
RANK = {"fit": 0.4, "melody": 0.3, "role": 0.15, "clean": 0.12, "easy": 0.03}


def score(candidate: Candidate) -> float:
    """How well a lick suits a phrase, 0..1."""
    return (
        RANK["fit"] * candidate.fit
        + RANK["melody"] * candidate.recall
        + RANK["role"] * candidate.role_agrees
        + RANK["clean"] * (not candidate.broken)
        + RANK["easy"] * (LEVELS - candidate.level) / (LEVELS - 1)
    )


def ranked(candidates: Iterable[Candidate]) -> list[Candidate]:
    """Best first."""
    return sorted(candidates, key=lambda c: (-round(score(c), 4), c.level, c.number))
