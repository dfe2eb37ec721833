"""Repeated phrases share their first target note, so that a part played again is known again (common practice, no source)."""

from collections import Counter
from collections.abc import Hashable, Sequence
from dataclasses import dataclass

from service.compose.stock import NONE, Candidate, Column, Stock
from service.music.tunes import Phrase

CHOICES = 2  # targets a repeated phrase may have: the commonest among its licks; ours, so that few states are kept apart


@dataclass(frozen=True, slots=True)
class SharedTargets:
    """``places`` gives each phrase's place in its part, None where it comes but once; ``last`` says at which phrase a place comes
    for the last time; ``allowed`` are the targets it may have. The state holds the targets chosen and still to come."""

    places: tuple[int | None, ...]
    last: tuple[int, ...]
    allowed: tuple[frozenset[int | None], ...]

    @property
    def start(self) -> Hashable:
        return (UNSET,) * len(self.last)

    def traits(self, of: Stock, phrase: int) -> Column:
        return of.ints("target")

    def step(self, state: Hashable, phrase: int, candidate: Candidate) -> Hashable | None:
        place = self.places[phrase]
        if place is None or not isinstance(state, tuple):
            return state
        chosen = state[place]
        if chosen == UNSET:
            if candidate.target not in self.allowed[place]:
                return None
            chosen = candidate.target
        elif chosen != candidate.target:
            return None
        kept = UNSET if phrase == self.last[place] else chosen
        return (*state[:place], kept, *state[place + 1 :])

    def ends(self, state: Hashable) -> bool:
        return True


UNSET = -1


def shared_targets(form: Sequence[Phrase], candidates: Sequence[Stock]) -> SharedTargets | None:
    """The watch for a form; None if nothing is repeated."""
    often = Counter((phrase.part, phrase.index) for phrase in form)
    repeated = [slot for slot, times in often.items() if times > 1]
    if not repeated:
        return None
    number = {slot: place for place, slot in enumerate(repeated)}
    places = tuple(number.get((phrase.part, phrase.index)) for phrase in form)
    last = tuple(
        max(i for i, place in enumerate(places) if place == wanted) for wanted in range(len(repeated))
    )
    allowed = []
    for wanted in range(len(repeated)):
        first = places.index(wanted)
        counted = Counter(candidates[first].column("target").tolist())
        commonest = (target for target, _ in counted.most_common(CHOICES))
        allowed.append(frozenset(None if target == NONE else target for target in commonest))
    return SharedTargets(places, last, tuple(allowed))
