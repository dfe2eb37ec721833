"""Writes that a client may repeat without doing them twice (Idempotency-Key)."""

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from sqlite3 import Connection
from typing import Generic, NoReturn, TypeVar

from service.clock import stamp
from service.errors import Conflict
from service.store.idempotency import Answer, answer_for, keep_answer
from service.usecases.house import House
from service.usecases.identify import Caller

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Once(Generic[T]):
    """A key, the request it came with, and how to answer with a result."""

    key: str
    request: bytes
    answer: Callable[[T], Answer]


class Answered(Exception):
    """The request was done before: this is what was answered. Not an error."""

    def __init__(self, answer: Answer) -> None:
        super().__init__("answered before")
        self.answer = answer


def request_hash(method: str, path: str, body: bytes) -> bytes:
    return hashlib.sha256(b"\n".join((method.encode(), path.encode(), body))).digest()


def check_once(house: House, caller: Caller, once: Once[T] | None) -> None:
    """Look for a key before anything is computed: what was answered holds, whatever has changed since.

    Raises Answered when the key has been used for the same request, Conflict for another one.
    """
    if once is not None:
        before = answer_for(house.database.points, caller.name, once.key)
        if before is not None:
            _say_again(before, once)


def _say_again(before: Answer, once: Once[T]) -> NoReturn:
    if before.request != once.request:
        raise Conflict("key-reused")
    raise Answered(before)


async def write_once(
    house: House, caller: Caller, once: Once[T] | None, unit: Callable[[Connection], T]
) -> T:
    """Run a unit of SQL; with a key, keep its answer in the same transaction.

    Raises Answered when the key has been used for the same request, Conflict for another one.
    """
    if once is None:
        return await house.database.write(unit)
    name, now = caller.name, house.clock()

    def kept_unit(connection: Connection) -> T | Answer:
        before = answer_for(connection, name, once.key)
        if before is not None:
            return before
        result = unit(connection)
        oldest = stamp(now - timedelta(hours=house.settings.idempotency_hours))
        keep_answer(connection, name, once.key, once.answer(result), stamp(now), oldest)
        return result

    result = await house.database.write(kept_unit)
    if isinstance(result, Answer):
        _say_again(result, once)
    return result
