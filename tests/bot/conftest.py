"""People who ask the bot."""

from collections.abc import Iterator

import pytest

from tests.bot.asking import Asking
from tests.support import RunningService


@pytest.fixture(scope="session")
def reading(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Asking]:
    """Shared by tests that change nothing."""
    with RunningService(tmp_path_factory.mktemp("asked"), demo=True) as service, Asking(service) as asking:
        yield asking


@pytest.fixture
def asking(service: RunningService) -> Iterator[Asking]:
    """Of the test's own."""
    with Asking(service) as found:
        yield found
