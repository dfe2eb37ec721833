"""Hypothesis profiles, and one running service for all tests that only read or draw."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from tests.club import Club, running_club
from tests.support import RunningService

for name, examples in (("quick", 60), ("nightly", 10_000)):
    settings.register_profile(
        name,
        max_examples=examples,
        deadline=None,
        derandomize=name == "quick",
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    )
settings.load_profile(os.environ.get("BREAKWRIGHT_TEST_PROFILE", "quick"))


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningService]:
    """A real service over a real file with the demo group, shared by tests that change nothing in it."""
    with RunningService(tmp_path_factory.mktemp("demo"), demo=True) as running:
        yield running


@pytest.fixture
def service(tmp_path: Path) -> Iterator[RunningService]:
    """A real service of the test's own, with the demo group."""
    with RunningService(tmp_path, demo=True) as running:
        yield running


@pytest.fixture
def club(tmp_path: Path) -> Iterator[Club]:
    """A service of the test's own whose demo group meets in a chat, at noon of a Monday in November."""
    with running_club(tmp_path) as found:
        yield found
