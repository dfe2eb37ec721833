"""What a power cut leaves of files: the writes and syncs of a SQLite are recorded, and replayed up to a cut.

What was synced is there. Of what was written since, any sectors may be there and others not, in any order. The
shared memory of the log is not on a disk; SQLite makes it anew.
"""

import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import apsw

SECTOR = 512  # bytes a disk writes as a whole; it leaves the ones beside alone


@dataclass(frozen=True, slots=True)
class Write:
    file: str
    offset: int
    data: bytes


@dataclass(frozen=True, slots=True)
class Truncate:
    file: str
    size: int


@dataclass(frozen=True, slots=True)
class Sync:
    file: str


Operation = Write | Truncate | Sync


class _File(apsw.VFSFile):
    def __init__(self, operations: list[Operation], name: Any, flags: list[int]) -> None:
        super().__init__("", name, flags)
        self._operations = operations
        self._name = Path(name.filename() if isinstance(name, apsw.URIFilename) else name).name

    def xWrite(self, data: bytes, offset: int) -> None:
        super().xWrite(data, offset)
        self._operations.append(Write(self._name, offset, bytes(data)))

    def xTruncate(self, size: int) -> None:
        super().xTruncate(size)
        self._operations.append(Truncate(self._name, size))

    def xSync(self, flags: int) -> None:
        super().xSync(flags)
        self._operations.append(Sync(self._name))


class Recorded(apsw.VFS):
    """A file layer called ``recorded`` that does what the usual one does and keeps a list of it."""

    def __init__(self) -> None:
        self.operations: list[Operation] = []
        super().__init__("recorded", "")

    def xOpen(self, name: Any, flags: list[int]) -> apsw.VFSFile:
        return _File(self.operations, name, flags)


@dataclass(slots=True)
class Disk:
    """What is on the disk for sure, and what was written to each file since its last sync."""

    synced: dict[str, bytearray]
    loose: dict[str, list[Write | Truncate]] = field(default_factory=dict)

    def take(self, operation: Operation) -> None:
        loose = self.loose.setdefault(operation.file, [])
        if isinstance(operation, Sync):
            content = self.synced.setdefault(operation.file, bytearray())
            for each in loose:
                _apply(content, each)
            loose.clear()
        else:
            loose.append(operation)

    def after_a_cut(self, chance: random.Random) -> dict[str, bytes]:
        """The files as one cut may leave them: of each, a few of the loose sectors, most, all or none."""
        left = {}
        for name in self.synced.keys() | self.loose.keys():
            content = bytearray(self.synced.get(name, b""))
            share = chance.choice((0.0, 0.2, 0.8, 1.0))
            for operation in self.loose.get(name, ()):
                for part in _sectors(operation):
                    if chance.random() < share:
                        _apply(content, part)
            left[name] = bytes(content)
        return left


def _sectors(operation: Write | Truncate) -> Iterator[Write | Truncate]:
    if isinstance(operation, Truncate):
        yield operation
        return
    offset, data = operation.offset, operation.data
    while data:
        room = SECTOR - offset % SECTOR
        yield Write(operation.file, offset, data[:room])
        offset, data = offset + room, data[room:]


def _apply(content: bytearray, operation: Write | Truncate) -> None:
    size = operation.size if isinstance(operation, Truncate) else operation.offset + len(operation.data)
    if len(content) < size:
        content.extend(bytes(size - len(content)))
    if isinstance(operation, Truncate):
        del content[size:]
    else:
        content[operation.offset : size] = operation.data
