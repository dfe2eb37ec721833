"""Lookups of a large service: none goes through a whole table, and what is long kept does not slow what is new."""

import asyncio
from collections.abc import Callable, Coroutine, Sequence
from pathlib import Path
from sqlite3 import Connection
from typing import Any

import pytest

from service.store import breaks, challenges, licks, people, posts, tokens, variations
from service.store.database import connect
from service.store.migrate import migrate

NOW = "2026-03-02T18:00:00Z"


@pytest.fixture
def connection(tmp_path: Path) -> Connection:
    made = connect(tmp_path / "crowd.sqlite3")
    migrate(made)
    return made


def plan_of(connection: Connection, call: Callable[[Connection], object]) -> list[str]:
    """How SQLite goes about every statement of a call."""
    asked: list[str] = []
    connection.set_trace_callback(asked.append)
    call(connection)
    connection.set_trace_callback(None)
    assert asked
    return [row[3] for sql in asked for row in connection.execute(f"EXPLAIN QUERY PLAN {sql}")]


class _Slow:
    """Stands for the connection of lists, over one that is watched."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    async def execute_fetchall(self, sql: str, params: Sequence[object]) -> list[tuple[object, ...]]:
        return self._connection.execute(sql, params).fetchall()


def plan_of_slow(connection: Connection, call: Callable[[Any], Coroutine[Any, Any, object]]) -> list[str]:
    return plan_of(connection, lambda c: asyncio.run(call(_Slow(c))))


@pytest.mark.parametrize(
    "call",
    [
        lambda c: posts.lapse(c, NOW),
        lambda c: posts.claimable(c, "chat", NOW, 10),
        lambda c: posts.posts_before(c, 1, 100, 10),
        lambda c: posts.bring_back(c, 1, NOW),
        lambda c: posts.announcement(c, 1, 1),
        lambda c: challenges.due_until(c, NOW, 64),
        lambda c: challenges.next_due(c),
        lambda c: challenges.under_way(c, 1, "open"),
        lambda c: challenges.past_spots(c, 1, 10),
        lambda c: variations.variations_of(c, 1, 0, 10, None),
        lambda c: variations.entered(c, 1),
        lambda c: variations.votes_in(c, 1),
        lambda c: variations.results(c, 1),
        lambda c: variations.entries(c, 1),
        lambda c: variations.recorded_bytes(c, 1),
        lambda c: people.leave(c, 1, NOW),
        lambda c: people.organisers(c, 1),
        lambda c: people.memberships_of_user(c, "chat", "wren", "", 10),
        lambda c: tokens.has_operator(c, NOW),
        lambda c: tokens.tokens_after(c, None, 0, 10, NOW),
        lambda c: breaks.recent_breaks(c, 1, 1, 10),
    ],
)
def test_no_lookup_goes_through_a_whole_table(
    connection: Connection, call: Callable[[Connection], object]
) -> None:
    plan = plan_of(connection, call)
    assert plan
    assert not [step for step in plan if step.startswith("SCAN")]


@pytest.mark.parametrize(
    "call",
    [
        lambda c: posts.claimable(c, "chat", NOW, 10),
        lambda c: challenges.due_until(c, NOW, 64),
        lambda c: breaks.recent_breaks(c, 1, 1, 10),
    ],
)
def test_what_comes_in_order_is_not_sorted_first(
    connection: Connection, call: Callable[[Connection], object]
) -> None:
    assert not [step for step in plan_of(connection, call) if "TEMP B-TREE" in step]


def test_how_variations_came_out_is_told_without_reading_them(connection: Connection) -> None:
    first, *_ = plan_of(connection, lambda c: variations.results(c, 1))
    assert "COVERING INDEX variations_counted" in first


def test_announcements_are_found_by_their_challenge(connection: Connection) -> None:
    (step,) = plan_of(connection, lambda c: posts.announcement(c, 1, 1))
    assert "USING INDEX posts_by_challenge (group_id=? AND <expr>=?)" in step


@pytest.mark.parametrize(
    ("sought", "among"),
    [(licks.Sought(), None), (licks.Sought(role="tag", style="roll"), None), (licks.Sought(), [1, 2])],
)
def test_licks_that_are_looked_for_come_in_order(
    connection: Connection, sought: licks.Sought, among: list[int] | None
) -> None:
    plan = plan_of_slow(connection, lambda c: licks.licks_after(c, 1, 0, 10, 1, sought, among))
    assert not [
        step
        for step in plan
        if "TEMP B-TREE" in step or (step.startswith("SCAN") and "json_each" not in step)
    ]


def test_names_are_read_from_their_index_and_new_ones_from_their_rows(connection: Connection) -> None:
    every = plan_of_slow(connection, lambda c: licks.names_since(c, 1, None))
    assert "SEARCH lick_revisions USING INDEX revisions_by_name (group_id=?)" in every
    news = plan_of_slow(connection, lambda c: licks.names_since(c, 1, 7))
    assert "SEARCH lick_revisions USING INDEX revisions_by_age (group_id=? AND rowid>?)" in news
