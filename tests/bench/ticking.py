"""A service whose event loop is watched: ``python -m tests.bench.ticking FOLDER`` prints its address and a token, then for each
line it is sent how late a tick of one millisecond came at worst since the line before, in milliseconds."""

import asyncio
import sys
import time
from pathlib import Path

TICK_S = 0.001


async def ticking(folder: Path) -> None:
    # here, since workers read the main module again: they shall be no larger than those of the service as it is run
    from service.app import Server, address_of, listen, open_house
    from service.usecases.identify import make_token
    from service.usecases.render_jobs import ready
    from service.usecases.seeding import DEMO_GROUP, seed_demo
    from tests.bench.filled import settings_for

    async with open_house(settings_for(folder)) as house:
        await seed_demo(house)
        token = await make_token(house, "member", DEMO_GROUP, "Wren")
        server = Server(house, listen("127.0.0.1", 0))
        await server.start()
        warming = asyncio.create_task(house.renders.warm(ready))
        print(address_of(server.listening), token, flush=True)
        worst = 0.0

        async def ticker() -> None:
            nonlocal worst
            while True:
                before = time.perf_counter()
                await asyncio.sleep(TICK_S)
                worst = max(worst, (time.perf_counter() - before - TICK_S) * 1000)

        watching = asyncio.create_task(ticker())
        loop = asyncio.get_running_loop()
        while await loop.run_in_executor(None, sys.stdin.readline):
            print(f"{worst:.2f}", flush=True)
            worst = 0.0
        watching.cancel()
        warming.cancel()
        await server.stop()


if __name__ == "__main__":
    from service.app import run

    run(lambda: ticking(Path(sys.argv[1])))
