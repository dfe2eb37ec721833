"""What is erased is overwritten: no page of the file holds it, however often rows were moved between pages before."""

import random
import sqlite3
from collections.abc import Callable
from pathlib import Path

from service.store.database import commit_together, connect
from service.store.groups import GroupRow, add_group
from service.store.licks import add_lick
from service.store.migrate import migrate
from service.store.people import add_member
from service.store.whole import erase_member

NOW = "2026-01-01T00:00:00Z"
MEMBERS, LICKS = 20, 400


def test_half_of_a_pool_that_grew_and_changed_leaves_no_byte_behind(tmp_path: Path) -> None:
    chance = random.Random(4)
    connection = connect(tmp_path / "db")
    migrate(connection)

    def commit(unit: Callable[[sqlite3.Connection], object]) -> None:
        ((_, failure),) = commit_together(connection, [unit])
        assert failure is None, failure

    wanted = GroupRow(0, "quay", "Quay", "banjo", "open-g", "en", None, None, 1, 0)
    group = add_group(connection, wanted, NOW)
    assert group is not None
    members = [
        add_member(connection, group, f"Name-{at}-", "member", "chat", f"user-{at}-", NOW).id
        for at in range(MEMBERS)
    ]

    def body(of: int) -> str:
        # from a part of a page to several pages
        return f'{{"text": "mark-{of}-{"y" * chance.randrange(50, 6000)}"}}'

    def grow(number: int) -> Callable[[sqlite3.Connection], object]:
        def unit(writing: sqlite3.Connection) -> None:
            of, earlier = number % MEMBERS, chance.randrange(number) if number else 0
            add_lick(writing, group, "banjo", "open-g", body(of), NOW)
            writing.execute("UPDATE licks SET member_id = ? WHERE number = ?", (members[of], number + 1))
            writing.execute(
                "INSERT INTO lick_revisions (group_id, number, revision, body, created) "
                "VALUES (?, ?, (SELECT 1 + max(revision) FROM lick_revisions WHERE number = ?), ?, ?)",
                (group, earlier + 1, earlier + 1, body(earlier % MEMBERS), NOW),
            )

        return unit

    for number in range(LICKS):
        commit(grow(number))
    for at in range(0, MEMBERS, 2):
        commit(lambda writing, at=at: erase_member(writing, group, members[at], NOW, remove=True))  # type: ignore[misc]
    assert connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0] == 0
    content = b"".join(path.read_bytes() for path in tmp_path.iterdir())
    there = {
        at
        for at in range(MEMBERS)
        for told in ("mark", "Name", "user")
        if f"{told}-{at}-".encode() in content
    }
    assert there == set(range(1, MEMBERS, 2))
    connection.close()
