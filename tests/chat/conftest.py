from collections.abc import Iterator

import pytest

from tests.chat.corner import Corner, running_corner


@pytest.fixture(scope="module")
def corner(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Corner]:
    """One for all tests of a file: starting takes a while. A test leaves no faults behind."""
    with running_corner(tmp_path_factory.mktemp("corner")) as running:
        yield running
