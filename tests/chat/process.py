"""``python -m bot`` as a process that can be killed."""

import os
import subprocess
import sys
from types import TracebackType
from typing import Self

import msgspec

from bot.settings import PREFIX, BotSettings
from tests.chat_platform.stand_in import Platform


class BotProcess:
    def __init__(self, platform: Platform, settings: BotSettings) -> None:
        told = {PREFIX + name.upper(): str(value) for name, value in msgspec.structs.asdict(settings).items()}
        self.process = subprocess.Popen(
            [sys.executable, "-m", "bot"],
            env={**os.environ, **told, **platform.environment},
            stdout=subprocess.DEVNULL,
        )

    def kill(self) -> None:
        self.process.kill()
        self.process.wait(20)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self.process.poll() is None:
            self.kill()
