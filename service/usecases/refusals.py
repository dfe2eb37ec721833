"""Why a wish is met by no break: what leaves which phrase without a lick, and what small change would give breaks."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from service.compose.demands import AnyLattice, Demands, impossible, makings_of
from service.compose.matching import changes_over
from service.compose.rungs import Rungs
from service.compose.stock import Column, Stock
from service.compose.whole import REDRAWS
from service.errors import DomainError, Fault
from service.judge.level import LEVELS
from service.usecases.composing import Composed
from service.usecases.wishes import CHOOSING, Wish, counted, every

PARTS_OF_A_WISH = (*CHOOSING, "must_include", "style_most", "level_sum", "repeats")


def no_breaks(wished: AnyLattice, composed: Composed, wish: Wish) -> DomainError:
    """The error for a wish that nothing meets: the phrase that nothing fills, the lick that fits nowhere, or all of it together."""
    at = [*_emptied(composed, wish), *_would_give(composed, wish)]
    for lick in wish.must_include:
        if not any((of.column("number") == lick).any() for of in wished.candidates):
            return DomainError("fits-nowhere", at=at, lick=lick, tune=composed.tune.name)
    unfilled = _unfilled(wished.candidates)
    if not unfilled:
        return DomainError("none-together", at=at, instrument=composed.setting.instrument.name)
    phrase = composed.form[unfilled[0]]
    chords = [
        "N.C." if change.chord is None else change.chord.name
        for change in changes_over([phrase], composed.setting, composed.tune)
    ]
    return DomainError(
        "no-breaks",
        at=at,
        instrument=composed.setting.instrument.name,
        phrase=phrase.number,
        role=phrase.role,
        chords=" ".join(chords),
    )


def none_found(tried: Rungs | AnyLattice, demands: Demands) -> DomainError:
    """The error for demands that no break met: why none can, as far as that is known, else the tightest phrase."""
    lattice = tried.loosest if isinstance(tried, Rungs) else tried
    why = tried.impossible if isinstance(tried, Rungs) else None
    why = why or impossible(lattice, demands)
    if why is not None:
        return DomainError(why.code, **why.named)
    choices = [len(of) for of in lattice.candidates]
    tightest = min(range(len(choices)), key=lambda phrase: choices[phrase])
    return DomainError("none-found", tries=REDRAWS, phrase=tightest + 1, licks=choices[tightest])


def _emptied(composed: Composed, wish: Wish) -> Iterator[Fault]:
    """The parts of a wish that alone leave phrases without a lick, or that alone are met by no break."""
    if not composed.lattice.total:
        return
    for name in PARTS_OF_A_WISH:
        asked = getattr(wish, name)
        alone = replace(Wish(), **{name: asked})
        if alone == Wish():
            continue
        left = every(composed, alone)
        if left.total:
            continue
        what = name.replace("_", "-")
        value = ", ".join(str(one) for one in asked) if name == "styles" else asked
        part = [{"what": f"part-{what}", "value": value}]
        empty = _unfilled(left.candidates) if name in CHOOSING else []
        if empty:
            phrases = ", ".join(str(phrase + 1) for phrase in empty)
            yield Fault("empties", {"part": part, "phrases": phrases}, path=what)
        else:
            yield Fault("met-by-none", {"part": part}, path=what)


def _unfilled(candidates: Sequence[Stock]) -> list[int]:
    """The phrases (from 0) that no lick fills."""
    filled: set[int] = set()
    for phrase, of in enumerate(candidates):
        for span in np.unique(of.column("span")).tolist():
            filled.update(range(phrase, phrase + span))
    return [phrase for phrase in range(len(candidates)) if phrase not in filled]


def _would_give(composed: Composed, wish: Wish) -> Iterator[Fault]:
    """The smallest change to each part of a wish that alone would give breaks, and how many; if none would, all of them."""

    def told(what: str, changed: Wish, value: object = "") -> Fault | None:
        lattice, total = counted(composed, changed)
        if not lattice.total or total == 0:
            return None
        code = "would-give" if total is not None else "would-give-at-most"
        change = {"what": f"change-{what}", "value": value}
        return Fault(code, {"change": [change], "total": str(total or lattice.total)}, path=what)

    tried: list[Iterator[Fault | None]] = []
    if wish.max_level is not None:
        higher = range(wish.max_level + 1, LEVELS + 1)
        tried.append(told("max-level", replace(wish, max_level=level), level) for level in higher)
    if wish.styles:
        played = {of.styles[n] for of in composed.lattice.candidates for n in np.unique(of.column("style"))}
        others = sorted(played - set(wish.styles))
        tried.append(told("styles", replace(wish, styles=(*wish.styles, style)), style) for style in others)
    if wish.bpm is not None:
        known = np.unique(np.concatenate([of.column("top") for of in composed.lattice.candidates]))
        tops = [top for top in known.tolist() if 0 <= top < wish.bpm]
        tried.append(told("bpm", replace(wish, bpm=top), top) for top in reversed(tops))
    if wish.avoid:
        tried.append(iter([told("avoid", replace(wish, avoid=()))]))
    for lick in wish.must_include:
        others_too = tuple(number for number in wish.must_include if number != lick)
        tried.append(iter([told("must-include", replace(wish, must_include=others_too), lick)]))
    for style, _ in wish.style_most:
        rest = replace(wish, style_most=tuple(pair for pair in wish.style_most if pair[0] != style))
        fewest = _least(composed, rest, lambda of, style=style: of.in_styles([style]))  # type: ignore[misc]
        if fewest is not None:
            more = replace(rest, style_most=(*rest.style_most, (style, fewest)))
            tried.append(iter([told("style-most", more, f"{fewest} {style}")]))
    if wish.level_sum is not None:
        lowest = _least(composed, replace(wish, level_sum=None), lambda of: of.column("level"))
        if lowest is not None:
            tried.append(iter([told("level-sum", replace(wish, level_sum=lowest), lowest)]))
    if wish.repeats is not None:
        tried.append(iter([told("repeats", replace(wish, repeats=None))]))
    found = [
        first for changes in tried if (first := next((fault for fault in changes if fault), None)) is not None
    ]
    bare = Wish(wish.instrument, wish.tuning)
    nothing = None if found or wish == bare else told("everything", bare)
    yield from found if nothing is None else [nothing]


def _least(composed: Composed, wish: Wish, number: Callable[[Stock], Column]) -> int | None:
    """The least that a number of licks can come to together in a break of a wish; None if there is none."""
    best = makings_of(every(composed, wish)).best(lambda of, phrase: number(of), lambda before, entry: 0)
    found = best.cheapest()
    return None if found is None else found[0]
