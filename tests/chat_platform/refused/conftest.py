"""One stand-in for all tests of a file, with its lists emptied before each."""

from collections.abc import Iterator

import httpx
import pytest

from tests.chat_platform.refused.plain import client
from tests.chat_platform.stand_in import Platform


@pytest.fixture(scope="module")
def shared() -> Iterator[Platform]:
    with Platform(ack_s=30.0) as platform:
        yield platform


@pytest.fixture
def platform(shared: Platform) -> Platform:
    shared.violations.clear()
    shared.refusals.clear()
    shared.pings.clear()
    shared.world.limits.everything_per_s = 10_000
    return shared


@pytest.fixture
def http(platform: Platform) -> Iterator[httpx.Client]:
    with client(platform) as http:
        yield http
