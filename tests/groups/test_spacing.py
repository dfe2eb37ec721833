"""When to come back to something."""

from datetime import date

import pytest

from service.groups.spacing import NEVER_MARKED, next_due, revisit_due


def test_what_is_kept_comes_back_ever_later() -> None:
    step, due = NEVER_MARKED, date(2026, 1, 1)
    seen = []
    for _ in range(9):
        step, due = next_due(step, due, kept=True)
        seen.append((step, due.isoformat()))
    assert seen == [
        (0, "2026-01-02"),
        (1, "2026-01-05"),
        (2, "2026-01-12"),
        (3, "2026-01-26"),
        (4, "2026-02-25"),
        (5, "2026-04-26"),
        (6, "2026-08-24"),
        (6, "2026-12-22"),
        (6, "2027-04-21"),
    ]


@pytest.mark.parametrize(
    ("step", "back_to", "due"),
    [
        (6, 4, "2026-01-31"),
        (3, 1, "2026-01-04"),
        (2, 0, "2026-01-02"),
        (1, 0, "2026-01-02"),
        (0, 0, "2026-01-02"),
        (NEVER_MARKED, 0, "2026-01-02"),
    ],
)
def test_what_is_lost_goes_back_two_steps(step: int, back_to: int, due: str) -> None:
    assert next_due(step, date(2026, 1, 1), kept=False) == (back_to, date.fromisoformat(due))


@pytest.mark.parametrize(
    ("last", "due"),
    [("2026-01-01", True), ("2026-01-02", True), ("2026-01-03", False), ("2026-01-31", False)],
)
def test_a_revisit_is_due_after_so_many_days(last: str, due: bool) -> None:
    assert revisit_due(date.fromisoformat(last), today=date(2026, 1, 30), every_days=28) is due


def test_what_was_never_played_is_not_due_for_a_revisit() -> None:
    assert not revisit_due(None, today=date(2026, 1, 30), every_days=28)
