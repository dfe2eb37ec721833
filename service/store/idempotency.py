"""Answers kept for repeated requests, committed with the write they answer."""

import sqlite3
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Answer:
    """``request`` is a hash over method, path, and body."""

    request: bytes
    status: int
    headers: str
    body: bytes


def answer_for(connection: sqlite3.Connection, caller: str, key: str) -> Answer | None:
    row = connection.execute(
        "SELECT request, status, headers, body FROM idempotency_keys WHERE caller = ? AND key = ?",
        (caller, key),
    ).fetchone()
    return Answer(*row) if row else None


def keep_answer(
    connection: sqlite3.Connection, caller: str, key: str, answer: Answer, created: str, oldest: str
) -> None:
    """Keep an answer and drop those from before ``oldest``."""
    connection.execute("DELETE FROM idempotency_keys WHERE created < ?", (oldest,))
    connection.execute(
        "INSERT INTO idempotency_keys (caller, key, request, status, headers, body, created) "
        "VALUES (?, ?, ?, ?, ?, ?, ?)",
        (caller, key, answer.request, answer.status, answer.headers, answer.body, created),
    )
