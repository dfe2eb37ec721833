"""What is kept ready in memory stays within its bounds."""

import gc
import random
import tracemalloc

import numpy as np

from service.compose.joined import JoinedLattice
from service.compose.watches import Both, Budget, MustHave
from service.usecases.house import GROWN_AFTER, Kept
from tests.compose.made_up import allows, candidate


def test_the_least_recently_used_go_first_until_what_is_kept_is_light_enough() -> None:
    kept: Kept[str, np.ndarray] = Kept(10, 1000, lambda column: column.nbytes)  # type: ignore[type-arg]
    for name, size in (("a", 400), ("b", 400), ("c", 100)):
        kept.put(name, np.zeros(size, np.int8))
    assert kept.get("a") is not None
    kept.put("d", np.zeros(300, np.int8))
    assert kept.get("b") is None
    assert [kept.get(name) is not None for name in "acd"] == [True, True, True]
    kept.put("large", np.zeros(5000, np.int8))
    assert kept.nbytes == 5000  # the last one stays in any case


def test_what_grows_while_it_is_used_is_weighed_again() -> None:
    kept: Kept[str, list[int]] = Kept(10, 100, len)
    growing = [0]
    kept.put("other", [0])
    kept.put("growing", growing)
    growing.extend(range(200))
    for _ in range(GROWN_AFTER):
        kept.get("growing")
    assert kept.get("other") is None
    assert kept.get("growing") is growing


def test_a_lattice_tells_what_the_tables_of_its_draws_take() -> None:
    phrases = [[candidate(n, n % 3, n % 4, cut=n % 2) for n in range(60)] for _ in range(8)]
    lattice = JoinedLattice(phrases, allows)
    before = lattice.nbytes
    drawn = random.Random(1)
    for _ in range(50):
        lattice.path(1 + drawn.randrange(lattice.total))
    assert before > 8 * 60 * 50
    assert lattice.nbytes > before


def test_a_lattice_tells_about_what_it_takes() -> None:
    """Of many states most memory is in small things; what is told lies within a factor of two of what is allocated."""
    phrases = [[candidate(n, n % 3, n % 4, level=1 + n % 5) for n in range(30)] for _ in range(12)]
    gc.collect()
    tracemalloc.start()
    lattice = JoinedLattice(phrases, allows, Both((Budget(40), MustHave((1, 2, 3)))))
    taken, _ = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert lattice.states > 1000
    assert taken / 2 < lattice.nbytes < 2 * taken
