"""Licks, seams and forms made up for small lattices that can be looked through."""

from service.compose.stock import Candidate
from service.judge.joins import Edge, Edges
from service.music.tunes import Phrase


def edge(kind: int, cut: int = 0) -> Edge:
    return Edge(1, "", kind, 1, cut)


def candidate(
    number: int,
    entry: int = 0,
    leaves: int = 9,
    span: int = 1,
    cut: int = 0,
    level: int = 1,
    recall: float = 0.0,
) -> Candidate:
    exits = tuple(edge(leaves + taken) for taken in range(4))
    return Candidate(
        number,
        1,
        span,
        level,
        "roll",
        1.0,
        recall=recall,
        ticks=3840 * span,
        edges=Edges(edge(entry, cut), exits),
    )


def allows(before: Edge, entry: Edge) -> int:
    """A made-up rule: kinds may not be equal."""
    return int(before.fret != entry.fret)


def form_of(order: str, sizes: dict[str, int]) -> list[Phrase]:
    found: list[Phrase] = []
    for part in order:
        for index in range(1, sizes[part] + 1):
            number = len(found) + 1
            found.append(Phrase(number, part, index, 2 * number, 3840 * number, 3840, (), "body"))
    return found
