"""A service whose clock is a file: ``python -m tests.season.serving FOLDER CLOCK`` prints its address, then its operator token."""

import asyncio
import sys
from datetime import datetime
from pathlib import Path

from service.app import Server, address_of, listen, open_house, run, until_signal
from service.jobs import scheduler
from service.settings import load_settings
from service.usecases.identify import first_token


async def _serve(folder: Path, clock: Path) -> None:
    scheduler.LOOK_S = 0.02  # the file is looked at often: it moves by hours at once

    def now() -> datetime:
        return datetime.fromisoformat(clock.read_text())

    async with open_house(load_settings({}, data=str(folder), log_level="error"), now) as house:
        token = await first_token(house)
        server = Server(house, listen("127.0.0.1", 0))
        await server.start()
        running = scheduler.Scheduler(house)
        running.start()
        print(address_of(server.listening), flush=True)
        print(token or "-", flush=True)
        waiting = asyncio.create_task(until_signal())
        await waiting
        await running.stop()
        await server.stop()


if __name__ == "__main__":
    run(lambda: _serve(Path(sys.argv[1]), Path(sys.argv[2])))
