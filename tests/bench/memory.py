"""Peak memory of composing, in a process of its own: ``python -m tests.bench.memory FILE`` prints megabytes as JSON.

FILE holds the columns of a pool. Their memory is there before and not counted. Two figures: the growth of the process's
resident memory at its peak (Linux alone tells), and the peak of what was allocated, by tracemalloc, in a second round.
"""

import gc
import json
import random
import re
import subprocess
import sys
import tempfile
import tracemalloc
from pathlib import Path

import numpy as np

from service.compose.pool import Pool
from tests.bench.pools import Made
from tests.bench.subject import Subject, lattice_of

PHRASES, DRAWS = 32, 300


def measured(made: Made) -> dict[str, float]:
    """``resident`` (0 where nobody tells), ``allocated`` and the ``pool``'s own megabytes."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "pool.npz"
        grounds = {f"over-{ground.hex()}": known for ground, known in made.over.items()}
        np.savez(file, rows=made.pool.rows, **grounds)
        command = [sys.executable, "-m", "tests.bench.memory", str(file)]
        done = subprocess.run(
            command, check=True, capture_output=True, text=True, cwd=Path(__file__).parents[2]
        )
    return json.loads(done.stdout)  # type: ignore[no-any-return]


def _everything(made: Made) -> None:
    """Lattice, both counts, draws, ranks, ten best, ten best with no lick twice."""
    subject = Subject(lattice_of(made, PHRASES), PHRASES)
    draw = random.Random(3)
    for lattice in (subject.lattice, subject.ready):
        for _ in range(DRAWS):
            path = lattice.path(1 + draw.randrange(lattice.total))
            lattice.number([(pick.candidate.number, pick.candidate.revision) for pick in path])
    for by in ("smooth", "melody"):
        subject.best(by, 10)
        subject.best(by, 10, no_repeats=True)


def _resident(which: str) -> float:
    """Megabytes that the system tells of this process."""
    status = Path("/proc/self/status")
    match = re.search(rf"{which}:\s+(\d+) kB", status.read_text()) if status.exists() else None
    return int(match.group(1)) / 1000 if match else 0.0


def main() -> None:
    kept = np.load(sys.argv[1])
    over = {bytes.fromhex(name[5:]): kept[name] for name in kept.files if name != "rows"}
    made = Made(Pool(kept["rows"]), over, ())
    pool = sum(column.nbytes for column in (made.pool.rows, *over.values())) / 1e6
    gc.collect()
    peak = Path("/proc/self/clear_refs")
    if peak.exists():
        peak.write_text("5")  # the peak begins anew
    before = _resident("VmRSS")
    _everything(made)
    resident = _resident("VmHWM") - before
    tracemalloc.start()
    _everything(made)
    allocated = tracemalloc.get_traced_memory()[1] / 1e6
    print(json.dumps({"resident": resident, "allocated": allocated, "pool": pool}))


if __name__ == "__main__":
    main()
