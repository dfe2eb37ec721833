"""An event loop in a thread of its own, so that the main thread is free to wait for somebody who types."""

import asyncio
import threading
from collections.abc import Coroutine, Iterator
from contextlib import AbstractAsyncContextManager, contextmanager
from types import TracebackType
from typing import Any, Self, TypeVar

T = TypeVar("T")


class Beside:
    """Use as a context manager; ``run`` does a piece of work there and waits for it here."""

    def __init__(self) -> None:
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, name="beside", daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def run(self, work: Coroutine[Any, Any, T]) -> T:
        """What comes of it; Ctrl-C gives it up."""
        doing = asyncio.run_coroutine_threadsafe(work, self._loop)
        try:
            return doing.result()
        except KeyboardInterrupt:
            doing.cancel()
            raise

    @contextmanager
    def within(self, opened: AbstractAsyncContextManager[T]) -> Iterator[T]:
        """What is opened there, closed at the end."""
        value = self.run(opened.__aenter__())
        try:
            yield value
        finally:
            self.run(opened.__aexit__(None, None, None))

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.run(self._loop.shutdown_default_executor())
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join()
        self._loop.close()
