"""A group adds, retires, takes down and puts back licks while it counts, draws, numbers, swaps and fills rests: against a
model that counts by hand."""

import itertools
import os
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from tests.support import RunningService

CHORDS = ("G", "C", "D G")  # kinds of phrases
FORM = (0, 1, 0, 1, 2)  # the kind of each: a part of two, played twice, then another
SHAPES = {"G": "0-0-0-0", "C": "2-0-1-2", "D": "4-2-3-4"}
ROLLS = ("32514251", "32513251", "21521521", "32152152", "12512512", "42514251")
# how a wish is refused that no break meets
REFUSED = ("no-breaks", "fits-nowhere", "none-together", "too-few-licks", "none-found")
names = itertools.count(1)


def _text(chords: str, first: int, second: int) -> str:
    measures = chords.split() * (1 if " " in chords else 2)
    return " ".join(
        f"{chord} {SHAPES[chord]}: {ROLLS[roll]},"
        for chord, roll in zip(measures, (first, second), strict=True)
    )


class Composing(RuleBasedStateMachine):
    """``pool`` is what the group should have: by lick number, the phrase it is for, its level, its text; ``down`` what was
    taken down, in the same way, with the state it goes back to."""

    running: RunningService

    def __init__(self) -> None:
        super().__init__()
        self.group = f"/v1/groups/quay-{next(names)}"
        slug = self.group.rsplit("/", 1)[1]
        client = self.running.operator
        client.post("/v1/groups", json={"slug": slug, "name": slug}).raise_for_status()
        tune = {
            "slug": "tiny", "name": "Tiny", "key": "G", "meter": "2/2", "chart": "A: | G | G | C | C |\nB: | D | G |",
            "order": "A A B", "tempo": {"low": 60, "high": 120, "start": 70, "unit": "half"},
        }  # fmt: skip
        client.post(f"{self.group}/tunes", json=tune).raise_for_status()
        self.client = client
        self.pool: dict[int, tuple[int, int, str]] = {}
        self.down: dict[int, tuple[int, int, str, str]] = {}
        self.retired: dict[int, tuple[int, int, str]] = {}
        self.codes: dict[str, list[int]] = {}

    def _post(self, path: str, sent: dict[str, Any]) -> Any:
        return self.client.post(f"{self.group}/{path}", json=sent)

    def _licks(self, max_level: int = 5, avoid: int = 0) -> list[list[int]]:
        return [
            [n for n, (at, level, _) in self.pool.items() if at == kind and level <= max_level and n != avoid]
            for kind in FORM
        ]

    def _total(self, **wish: int) -> int:
        total = 1
        for of in self._licks(**wish):
            total *= len(of)
        return total

    def _every(self, wish: dict[str, Any]) -> set[tuple[int, ...]]:
        """The breaks that are as asked, looked through one by one."""
        chosen = self._licks(wish.get("max_level", 5), (wish.get("avoid") or [0])[0])
        levels = {number: level for number, (_, level, _) in self.pool.items()}
        return {
            row
            for row in itertools.product(*chosen)
            if set(wish.get("must_include", [])) <= set(row)
            and sum(levels[number] for number in row) <= wish.get("level_sum", 99)
            and (wish.get("repeats") != "same" or row[:2] == row[2:4])
            and (wish.get("repeats") != "different" or row[:2] != row[2:4])
            and (not wish.get("no_repeats") or len(set(self._once(row, wish))) == len(self._once(row, wish)))
        }

    @staticmethod
    def _once(row: tuple[int, ...], wish: dict[str, Any]) -> tuple[int, ...]:
        """What must not come twice: parts that are the same again on purpose aside."""
        return row[2:] if wish.get("repeats") == "same" else row

    @rule(
        phrase=st.integers(0, 2), first=st.integers(0, 5), second=st.integers(0, 5), level=st.integers(1, 5)
    )
    def a_lick_is_sent_in(self, phrase: int, first: int, second: int, level: int) -> None:
        text = _text(CHORDS[phrase], first, second)
        chords = CHORDS[phrase].split() * (1 if " " in CHORDS[phrase] else 2)
        sent = {
            "name": f"lick {next(names)}", "text": text, "instrument": "banjo", "tuning": "open-g", "meter": "2/2",
            "key": "G", "chords": f"| {' | '.join(chords)} |", "hand_style": "three-finger", "style": "roll",
            "level": level,
        }  # fmt: skip
        made = self._post("licks", sent)
        assert made.status_code == 201, made.text
        there = text in [of[2] for of in (*self.pool.values(), *self.down.values())]
        assert made.json()["state"] == ("draft" if there else "pool")
        if not there:
            self.pool[made.json()["number"]] = (phrase, level, text)

    @initialize(rolls=st.lists(st.integers(0, 5), min_size=3, max_size=3))
    def each_kind_of_phrase_has_a_lick(self, rolls: list[int]) -> None:
        for kind, roll in enumerate(rolls):
            self.a_lick_is_sent_in(kind, roll, (roll + 1) % 6, 1 + roll % 3)

    @precondition(lambda self: self.pool)
    @rule(data=st.data())
    def a_lick_is_retired(self, data: st.DataObject) -> None:
        number = data.draw(st.sampled_from(sorted(self.pool)))
        self.client.delete(f"{self.group}/licks/{number}", headers={"If-Match": "*"}).raise_for_status()
        self.retired[number] = self.pool.pop(number)

    @precondition(lambda self: self.pool or self.retired)
    @rule(data=st.data())
    def a_lick_is_taken_down(self, data: st.DataObject) -> None:
        self._take_down(data.draw(st.sampled_from(sorted([*self.pool, *self.retired]))))

    def _take_down(self, number: int) -> None:
        sent = {"reason": f"reason {number}"}
        self.client.put(
            f"{self.group}/licks/{number}/taken-down", json=sent, headers={"If-Match": "*"}
        ).raise_for_status()
        state, of = ("pool", self.pool) if number in self.pool else ("retired", self.retired)
        self.down[number] = (*of.pop(number), state)

    @precondition(lambda self: self.down)
    @rule(data=st.data())
    def a_lick_is_put_back(self, data: st.DataObject) -> None:
        number = data.draw(st.sampled_from(sorted(self.down)))
        self.client.delete(
            f"{self.group}/licks/{number}/taken-down", headers={"If-Match": "*"}
        ).raise_for_status()
        *lick, state = self.down.pop(number)
        phrase, level, text = lick
        if state == "pool" and text in [other for _, _, other in self.pool.values()]:
            state = "draft"
        assert self.client.get(f"{self.group}/licks/{number}").json()["state"] == state
        if state == "pool":
            self.pool[number] = (phrase, level, text)
        elif state == "retired":
            self.retired[number] = (phrase, level, text)

    @precondition(lambda self: self.down)
    @rule()
    def nobody_reads_what_was_taken_down(self) -> None:
        for number in self.down:
            assert self.client.get(f"{self.group}/licks/{number}").status_code == 451
        listed = self.client.get(f"{self.group}/licks/taken-down").json()["items"]
        assert {one["lick"]: one["reason"] for one in listed} == {n: f"reason {n}" for n in self.down}

    def _resting(self) -> list[str]:
        """Breaks of which some licks were taken down and all others are in the pool."""
        return [
            code
            for code, numbers in self.codes.items()
            if any(n in self.down for n in numbers) and all(n in self.down or n in self.pool for n in numbers)
        ]

    @precondition(lambda self: self._total())
    @rule(data=st.data(), seed=st.integers(0, 99))
    def a_lick_of_a_break_is_taken_down_and_the_rest_filled(self, data: st.DataObject, seed: int) -> None:
        made = self._post("tunes/tiny/breaks/random", {"seed": seed}).json()
        self._is_of_the_pool(made)
        number = data.draw(st.sampled_from(self.codes[made["code"]]))
        first, second = data.draw(st.tuples(st.integers(0, 5), st.integers(0, 5)))
        self.a_lick_is_sent_in(self.pool[number][0], first, second, 2)  # something to fill the rest with
        self._take_down(number)
        self._a_rest_is_filled(data)

    @precondition(lambda self: self._resting())
    @rule(data=st.data())
    def a_rest_is_filled(self, data: st.DataObject) -> None:
        self._a_rest_is_filled(data)

    def _a_rest_is_filled(self, data: st.DataObject) -> None:
        code = data.draw(st.sampled_from(self._resting()))
        phrase = data.draw(st.integers(1, len(FORM)))
        numbers = self.codes[code]
        answer = self._post(f"breaks/{code}/swaps", {"phrase": phrase})
        if numbers[phrase - 1] not in self.down:
            assert answer.json()["code"] == "fill-the-rest-first"
            return
        offered = [one["number"] for one in answer.json()["items"]]
        assert set(offered) == set(self._licks()[phrase - 1])
        if offered:
            filled = self._post(f"breaks/{code}/swaps", {"phrase": phrase, "lick": offered[0]})
            if not all(of or n in self.pool for of, n in zip(self._licks(), numbers, strict=True)):
                assert filled.json()["code"] == "nothing-fills-the-rest"
                return
            self._is_of_the_pool(filled.json())
            made = self.codes[filled.json()["code"]]
            alike = [a for a, b in zip(made, numbers, strict=True) if b == numbers[phrase - 1]]
            assert set(alike) == {offered[0]}
            assert all(a == b for a, b in zip(made, numbers, strict=True) if b not in self.down)

    @rule(max_level=st.integers(1, 5))
    def breaks_up_to_a_level_are_counted(self, max_level: int) -> None:
        counted = self._post("tunes/tiny/breaks/count", {"max_level": max_level}).json()
        shift = counted["per_phrase"]
        assert shift == [len(of) for of in self._licks(max_level=max_level)]
        assert counted["total"] == str(self._total(max_level=max_level))

    @precondition(lambda self: self._total())
    @rule(seed=st.integers(0, 99))
    def a_break_is_drawn(self, seed: int) -> None:
        first = self._post("tunes/tiny/breaks/random", {"seed": seed})
        again = self._post("tunes/tiny/breaks/random", {"seed": seed})
        assert first.status_code == 201, first.text
        assert first.json()["code"] == again.json()["code"]
        self._is_of_the_pool(first.json())

    def _is_of_the_pool(self, made: dict[str, Any]) -> None:
        numbers = [place["lick"]["number"] for place in made["phrases"]]
        for of, number in zip(self._licks(), numbers, strict=True):
            assert number in of
        assert made["total"] == str(self._total())
        self.codes[made["code"]] = numbers

    @precondition(lambda self: 0 < self._total() <= 3000)
    @rule(data=st.data(), seed=st.integers(0, 99))
    def a_wish_is_met_by_those_that_meet_it(self, data: st.DataObject, seed: int) -> None:
        one = st.sampled_from(sorted(self.pool))
        parts = {
            "max_level": st.integers(1, 5), "avoid": st.lists(one, min_size=1, max_size=1),
            "must_include": st.lists(one, min_size=1, max_size=2), "level_sum": st.integers(5, 25),
            "repeats": st.sampled_from(["same", "different"]), "no_repeats": st.just(True),
        }  # fmt: skip
        wish = data.draw(st.fixed_dictionaries({}, optional=parts))
        wanted = self._every(wish)
        counted = self._post("tunes/tiny/breaks/count", wish).json()
        if not wish.get("no_repeats"):
            assert counted["total"] == str(len(wanted))
        drawn = self._post("tunes/tiny/breaks/random", wish | {"seed": seed})
        best = self._post("tunes/tiny/breaks/best", wish | {"by": "easy", "how_many": 50})
        if not wanted:
            assert (drawn.status_code, best.status_code) == (409, 409)
            assert drawn.json()["code"] in REFUSED
            return
        assert tuple(place["lick"]["number"] for place in drawn.json()["phrases"]) in wanted
        rows = [tuple(place["lick"]["number"] for place in made["phrases"]) for made in best.json()["items"]]
        assert set(rows) <= wanted
        assert len(set(rows)) == len(rows)
        levels = {number: level for number, (_, level, _) in self.pool.items()}
        sums = [sum(levels[number] for number in row) for row in rows]
        assert sums == sorted(sums)

    @precondition(lambda self: 0 < self._total() <= 12)
    @rule()
    def every_number_is_another_break(self) -> None:
        snapshot = self._post("tunes/tiny/breaks/count", {}).json()["snapshot"]
        seen = set()
        for number in range(1, self._total() + 1):
            made = self.client.get(
                f"{self.group}/tunes/tiny/breaks/number/{number}", params={"snapshot": snapshot}
            ).json()
            assert made["number"] == str(number)
            seen.add(tuple(place["lick"]["number"] for place in made["phrases"]))
        assert seen == set(itertools.product(*self._licks()))

    @precondition(lambda self: 0 < self._total() <= 8)
    @rule()
    def unseeded_draws_come_round_once_each(self) -> None:
        codes = [self._post("tunes/tiny/breaks/random", {}).json()["code"] for _ in range(2 * self._total())]
        # whatever was served before, a whole round lies within two
        assert len(set(codes)) == self._total()

    @precondition(lambda self: self._total())
    @rule(data=st.data(), seed=st.integers(0, 99))
    def a_lick_is_swapped(self, data: st.DataObject, seed: int) -> None:
        made = self._post("tunes/tiny/breaks/random", {"seed": seed}).json()
        phrase = data.draw(st.integers(1, len(FORM)))
        others = self._post(f"breaks/{made['code']}/swaps", {"phrase": phrase}).json()["items"]
        here = made["phrases"][phrase - 1]["lick"]["number"]
        assert {one["number"] for one in others} == set(self._licks()[phrase - 1]) - {here}
        if others:
            swapped = self._post(
                f"breaks/{made['code']}/swaps", {"phrase": phrase, "lick": others[0]["number"]}
            )
            self._is_of_the_pool(swapped.json())

    @precondition(lambda self: self._total())
    @rule(by=st.sampled_from(["smooth", "easy"]))
    def the_best_is_of_the_pool(self, by: str) -> None:
        (made,) = self._post("tunes/tiny/breaks/best", {"by": by, "how_many": 1}).json()["items"]
        self._is_of_the_pool(made)

    @invariant()
    def codes_hold_for_good(self) -> None:
        resting = [one for one in self.codes.items() if any(number in self.down for number in one[1])]
        for code, numbers in (*list(self.codes.items())[-2:], *resting[-2:]):
            made = self.client.get(f"{self.group}/breaks/{code}").json()
            left = [None if number in self.down else number for number in numbers]
            assert [place["lick"] and place["lick"]["number"] for place in made["phrases"]] == left
            noted = [place["note"] and place["note"]["params"]["lick"] for place in made["phrases"]]
            assert noted == [number if number in self.down else None for number in numbers]


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningService]:
    with RunningService(tmp_path_factory.mktemp("over-time"), demo=False) as service:
        yield service


def test_a_group_composes_over_time(running: RunningService) -> None:
    Composing.running = running
    nightly = os.environ.get("BREAKWRIGHT_TEST_PROFILE") == "nightly"
    examples, steps = (100, 80) if nightly else (15, 50)
    run_state_machine_as_test(  # type: ignore[no-untyped-call]
        Composing, settings=settings(max_examples=examples, stateful_step_count=steps, deadline=None)
    )
