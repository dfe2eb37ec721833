"""A stand-in whose bot must do nothing wrong, and the small bot at it."""

from collections.abc import Iterator

import pytest

from tests.chat_platform.a_bot import Bot, at_once
from tests.chat_platform.running import Running
from tests.chat_platform.stand_in import Platform


@pytest.fixture
def platform() -> Iterator[Platform]:
    with Platform(servers=2) as platform:
        yield platform
    assert platform.violations == []


@pytest.fixture
def bot(platform: Platform) -> Iterator[Bot]:
    client = Bot()
    with Running(client, platform):
        yield client


@pytest.fixture
def quick(platform: Platform, monkeypatch: pytest.MonkeyPatch) -> Iterator[Bot]:
    """A bot that begins anew without waiting."""
    client = Bot()
    monkeypatch.setattr(client, "before_identify_hook", at_once)
    with Running(client, platform):
        yield client
