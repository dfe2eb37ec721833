"""Files of licks: a zip or a folder of TOML tables and plain tabs, and which licks are sent in with it.

Nothing is written anywhere, and nothing in a zip is believed: not what it says of sizes, not where its files want to go.
"""

import io
import re
import tomllib
import zipfile
import zlib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath

from service.errors import DomainError, Fault
from service.usecases.licks import Submission
from service.usecases.readings import looks_like_one_line

# All ours: what a folder of licks of a large group may have, with room.
FILES_MOST = 500
LICKS_MOST = 500  # judging one takes some 20 ms
FILE_KB = 500
UNPACKED_MIB = 5
SHOWN = 200  # characters of a path or name that are told back

DEFAULTS = "defaults.toml"
WHOLE_GROUP = "group.json"  # stands in an export of a group
_NEEDED = ("name", "text", "instrument", "chords", "key", "hand_style", "style")
_TOML_PLACE = re.compile(r"\(at line (\d+), column (\d+)\)")
_QUOTES = ("'''\n", '"""\n', "'''", '"""', "'", '"')
_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)

Table = dict[str, object]
AsSubmission = Callable[[Table], Submission]


@dataclass(frozen=True, slots=True)
class FoundFile:
    """A file by its path in the folder; ``trouble`` says why there is no content."""

    path: str
    content: bytes = b""
    trouble: Fault | None = None


@dataclass(frozen=True, slots=True)
class FoundLick:
    """A lick of a file, its ``place`` among the file's licks from 1, or why there is none: ``skipped``, or faults ``at`` places.

    ``line`` and ``column`` are where its text begins in the file, from 0; None where that is not known.
    """

    path: str
    place: int | None = None
    name: str | None = None
    sent: Submission | None = None
    skipped: Fault | None = None
    at: tuple[Fault, ...] = ()
    line: int | None = 0
    column: int = 0

    def in_file(self, faults: Iterable[Fault]) -> tuple[Fault, ...]:
        """Faults of the lick's text as places in the file."""
        return tuple(self._in_file(fault) for fault in faults)

    def _in_file(self, fault: Fault) -> Fault:
        if fault.line is None:
            return fault
        if self.line is None:
            return replace(fault, line=None, column=None)
        column = fault.column
        if column is not None and fault.line == 1:
            column += self.column
        return replace(fault, line=fault.line + self.line, column=column)


def files_of_zip(body: bytes) -> list[FoundFile]:
    """The files in a zip. Raises DomainError if it is none, is an export of a group, or has too much in it."""
    try:
        with zipfile.ZipFile(io.BytesIO(body)) as packed:
            return _unpacked(packed)
    except (zipfile.BadZipFile, zipfile.LargeZipFile, NotImplementedError, ValueError, OSError):
        raise DomainError("import-not-a-zip") from None


def _unpacked(packed: zipfile.ZipFile) -> list[FoundFile]:
    entries = [entry for entry in packed.infolist() if not entry.filename.endswith("/")]
    if any(PurePosixPath(entry.filename).name == WHOLE_GROUP for entry in entries):
        raise DomainError("import-whole-group")
    if len(entries) > FILES_MOST:
        raise DomainError("import-too-many", most=FILES_MOST, what="files")
    found, left = [], UNPACKED_MIB << 20
    for entry in entries:
        file = _unpacked_file(packed, entry)
        left -= len(file.content)
        if left < 0:
            raise DomainError("import-unpacks-too-large", most=UNPACKED_MIB)
        found.append(file)
    return found


def _unpacked_file(packed: zipfile.ZipFile, entry: zipfile.ZipInfo) -> FoundFile:
    path = entry.filename
    if _is_odd(path):
        return FoundFile(path, trouble=Fault("odd-path"))
    if not _may_hold_licks(path):
        return FoundFile(path)
    if entry.compress_type not in _METHODS:
        return FoundFile(path, trouble=Fault("file-not-unpacked"))
    try:
        with packed.open(entry) as file:
            content = file.read((FILE_KB * 1000) + 1)
    # it has a password: RuntimeError
    except (zipfile.BadZipFile, zlib.error, RuntimeError, EOFError, OSError):
        return FoundFile(path, trouble=Fault("file-not-unpacked"))
    return _within_size(path, content)


def _within_size(path: str, content: bytes) -> FoundFile:
    if len(content) > FILE_KB * 1000:
        return FoundFile(path, trouble=Fault("file-too-large", {"most": FILE_KB}))
    return FoundFile(path, content)


def _is_odd(path: str) -> bool:
    """A path that leads out of its folder, or is none."""
    parts = PurePosixPath(path.replace("\\", "/")).parts
    return not parts or parts[0] == "/" or ":" in parts[0] or ".." in parts or not path.isprintable()


def _may_hold_licks(path: str) -> bool:
    parts = PurePosixPath(path).parts
    return (
        parts[0] != "__MACOSX" and not parts[-1].startswith(".") and path.lower().endswith((".toml", ".txt"))
    )


def files_of_folder(folder: Path) -> list[FoundFile]:
    """The files in a folder and those below it. Raises OSError, DomainError ``import-too-many``."""
    paths = sorted(path for path in folder.rglob("*") if path.is_file() and not path.is_symlink())
    if len(paths) > FILES_MOST:
        raise DomainError("import-too-many", most=FILES_MOST, what="files")
    return [
        _within_size(name, path.read_bytes()) if _may_hold_licks(name) else FoundFile(name)
        for path in paths
        for name in [path.relative_to(folder).as_posix()]
    ]


def licks_of_files(
    files: Sequence[FoundFile], given: Mapping[str, str], as_submission: AsSubmission
) -> list[FoundLick]:
    """Every lick in the files, and every file without one, in order.

    What a lick leaves open its file says, else a defaults.toml beside it, else ``given``. ``as_submission`` raises DomainError
    with places for a table that is none. Raises DomainError ``import-too-many``.
    """
    defaults: dict[PurePosixPath, Table] = {}
    found: list[FoundLick] = []
    for file in files:
        if _is_defaults(file):
            table = _table(file)
            if isinstance(table, dict):
                defaults[PurePosixPath(file.path).parent] = table
            else:
                found.append(FoundLick(_shown(file.path), at=(table,)))
    count = 0
    for file in files:
        if not _is_defaults(file):
            below = {**given, **defaults.get(PurePosixPath(file.path).parent, {})}
            licks = _licks_of_file(file, below, as_submission)
            found.extend(licks)
            count += sum(lick.place is not None for lick in licks)
            _check_count(count)
    return found


def _is_defaults(file: FoundFile) -> bool:
    return file.trouble is None and PurePosixPath(file.path).name == DEFAULTS


def _check_count(licks: int) -> None:
    if licks > LICKS_MOST:
        raise DomainError("import-too-many", most=LICKS_MOST, what="licks")


def _shown(text: str) -> str:
    return "".join(letter if letter.isprintable() else "?" for letter in text[:SHOWN])


def _text(file: FoundFile) -> str | Fault:
    try:
        return file.content.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError:
        return Fault("not-utf-8")


def _table(file: FoundFile) -> Table | Fault:
    """What a file of TOML says."""
    text = _text(file)
    if isinstance(text, Fault):
        return text
    try:
        return tomllib.loads(text)
    except ValueError as error:  # TOMLDecodeError is one, a number of too many digits another
        place = _TOML_PLACE.search(str(error))
        line = int(place[1]) if place else text.count("\n") + 1
        return Fault("not-toml", line=line, column=int(place[2]) if place else None)
    except RecursionError:
        return Fault("not-toml")


def _licks_of_file(file: FoundFile, below: Table, as_submission: AsSubmission) -> list[FoundLick]:
    path = _shown(file.path)
    if file.trouble is not None:
        odd = file.trouble.code == "odd-path"
        return [FoundLick(path, skipped=file.trouble) if odd else FoundLick(path, at=(file.trouble,))]
    if not _may_hold_licks(file.path):
        return [FoundLick(path, skipped=Fault("no-lick-file"))]
    text = _text(file)
    if isinstance(text, Fault):
        return [FoundLick(path, at=(text,))]
    if file.path.lower().endswith(".txt"):
        return [_lick_of_tab(path, text, below, as_submission)]
    return _licks_of_tables(path, text, _table(file), below, as_submission)


def _licks_of_tables(
    path: str, text: str, table: Table | Fault, below: Table, as_submission: AsSubmission
) -> list[FoundLick]:
    if isinstance(table, Fault):
        return [FoundLick(path, at=(table,))]
    licks = table.pop("lick", None)
    if licks is None:
        return [FoundLick(path, skipped=Fault("no-licks-in-it"))]
    if not isinstance(licks, list) or not all(isinstance(lick, dict) for lick in licks):
        return [FoundLick(path, at=(Fault("not-lick-tables"),))]
    _check_count(len(licks))
    found, begin = [], 0
    for place, lick in enumerate(licks, 1):
        said = {**below, **table, **lick}
        tab = said["text"] = lick.get("tab", lick.get("text"))
        said.pop("tab", None)
        said.pop("number", None)  # it belongs to the pool that the file was made for
        at = _begin_of(text, tab, begin) if isinstance(tab, str) else -1
        known = FoundLick(path, place, line=None)
        if at >= 0:
            begin = at
            line_begin = text.rfind("\n", 0, at) + 1
            known = FoundLick(path, place, line=text.count("\n", 0, at), column=at - line_begin)
        found.append(_lick(known, said, as_submission))
    return found


def _begin_of(text: str, tab: str, begin: int) -> int:
    """Where a lick's text begins in its file, behind the quotes; -1 if it is written with escapes."""
    places = [(text.find(quotes + tab, begin), len(quotes)) for quotes in _QUOTES]
    return min((at + width for at, width in places if at >= 0), default=-1)


def _lick_of_tab(path: str, text: str, below: Table, as_submission: AsSubmission) -> FoundLick:
    lines = [line for line in text.splitlines() if line.strip()]
    plain = looks_like_one_line(text) and len(lines) > 1
    if plain or not any(letter.isdigit() for letter in text):
        return FoundLick(path, skipped=Fault("no-tab-in-it"))
    stem = re.sub(r"[-_\s]+", " ", PurePosixPath(path).stem).strip()
    return _lick(
        FoundLick(path, 1), {**below, "name": stem[:1].upper() + stem[1:], "text": text}, as_submission
    )


def _lick(found: FoundLick, said: Table, as_submission: AsSubmission) -> FoundLick:
    name = said.get("name")
    found = replace(found, name=_shown(name) if isinstance(name, str) else None)
    missing = [field for field in _NEEDED if said.get(field) is None]
    if missing:
        return replace(
            found, at=tuple(Fault("field-missing", {"field": field}, path=field) for field in missing)
        )
    try:
        return replace(found, sent=as_submission(said))
    except DomainError as error:
        return replace(found, at=error.at)
