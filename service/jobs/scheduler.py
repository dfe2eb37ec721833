"""The clock: sleeps until something is due, then calls the use case that does it."""

import asyncio
import contextlib
import logging

from service.clock import moment
from service.store.challenges import next_due
from service.usecases.house import House
from service.usecases.weekly import run_due

LOOK_S = 5.0  # it looks again after so long at the latest: other processes write too
TROUBLE_S = 30.0


class Scheduler:
    """``start`` once the house is open, ``stop`` before it is closed. What is due while it is not running is done at the start."""

    def __init__(self, house: House) -> None:
        self._house = house
        self._task: asyncio.Task[None] | None = None

    def start(self) -> None:
        self._task = asyncio.create_task(self._run(), name="scheduler")

    async def stop(self) -> None:
        if self._task is not None:
            self._task.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await self._task

    async def _run(self) -> None:
        while True:
            try:
                await run_due(self._house)
                wait = self._until_next()
            except Exception:
                logging.getLogger("breakwright").exception("the scheduler has trouble")
                wait = TROUBLE_S
            await asyncio.sleep(wait)

    def _until_next(self) -> float:
        at = next_due(self._house.database.points)
        if at is None:
            return LOOK_S
        left = (moment(at) - self._house.clock()).total_seconds()
        return min(LOOK_S, max(0.1, left))
