"""The baseline of every HTTP figure: a bare litestar handler that returns ready bytes, on the same server."""

import subprocess
import sys
from pathlib import Path
from types import TracebackType
from typing import Self


class BaselineServer:
    """A process of its own, with uvloop and httptools as in the service."""

    def __init__(self, body: bytes) -> None:
        self._body = body
        self.url = ""

    def __enter__(self) -> Self:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.bench.baseline"],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, cwd=Path(__file__).parents[2],
        )  # fmt: skip
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(self._body)
        self._process.stdin.close()
        self.url = self._process.stdout.readline().decode().strip()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._process.terminate()
        self._process.wait()


def main() -> None:
    import asyncio

    import uvicorn
    from litestar import Litestar, Response, get

    from service.app import address_of, listen, run

    body = sys.stdin.buffer.read()

    @get("/")
    async def ready() -> Response[bytes]:
        return Response(body, media_type="application/json")

    async def serve() -> None:
        listening = listen("127.0.0.1", 0)
        application = Litestar([ready], openapi_config=None, logging_config=None)
        config = uvicorn.Config(
            application, loop="none", http="httptools", lifespan="off", access_log=False, log_config=None,
            server_header=False,
        )  # fmt: skip
        task = asyncio.create_task(uvicorn.Server(config).serve([listening]))
        print(address_of(listening) + "/", flush=True)
        await task

    run(serve)


if __name__ == "__main__":
    main()
