"""Copies of a group, and of what is known of a member: a zip of JSON, with tab and charts as text beside.

Equal data gives equal bytes: names are sorted, times in the zip are all one. A copy is of one moment, and is written to a file
row by row, so it takes little memory however large the group is.
"""

import asyncio
import tempfile
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass
from typing import BinaryIO
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile, ZipInfo

import msgspec

from service.clock import stamp
from service.errors import Forbidden
from service.music.passages import lick_passage
from service.notation.tab_writer import write_tab
from service.store.tables import JSON, TABLES, Table
from service.store.whole import Copying, Row
from service.usecases.audited import note
from service.usecases.house import House
from service.usecases.identify import Caller, member_of, reach_group
from service.usecases.recorded import SUFFIXES
from service.usecases.records import encode, lick_of, lick_record, tune_record

GROUP_FORMAT, MEMBER_FORMAT, VERSION = "breakwright-group", "breakwright-member", 1
HEAD, RECORDINGS = "group.json", "recordings"
EARLIEST = (1980, 1, 1, 0, 0, 0)  # that a zip can tell
READABLE, UNIX = 0o644 << 16, 3  # how a zip says who may read a file, and in whose terms
CHUNK = 1 << 18


@dataclass(slots=True)
class Copy:
    """A zip on disk that is gone once it is closed; ``size`` in bytes."""

    name: str
    size: int
    _file: BinaryIO

    async def chunks(self) -> AsyncIterator[bytes]:
        """Its bytes, a part at a time, read off the loop."""
        try:
            while part := await asyncio.to_thread(self._file.read, CHUNK):
                yield part
        finally:
            self._file.close()


async def export_group(house: House, caller: Caller, group_slug: str) -> Copy:
    """Everything of a group, but for secrets and what members keep to themselves."""
    group = reach_group(house, caller, group_slug, "export-group")
    now = stamp(house.clock())
    await house.database.write(
        lambda connection: note(connection, caller, group.id, now, "export-group", f"group {group.slug}")
    )
    return await _copy(house, group.slug, group.id, None)


async def export_member(house: House, caller: Caller, group_slug: str, number: int) -> Copy:
    """Everything that is known of oneself in a group, what is private too. Raises Forbidden ``for-them-alone``."""
    group = reach_group(house, caller, group_slug, "export-oneself")
    member_id = member_of(caller)
    if number != caller.member_number:
        raise Forbidden("for-them-alone", member=number)
    return await _copy(house, f"{group.slug}-member-{number}", group.id, member_id)


async def _copy(house: House, name: str, group_id: int, member_id: int | None) -> Copy:
    async with house.making("copies"):  # one at a time: each takes a thread and room on the disk
        return await asyncio.to_thread(_written, house, f"{name}.zip", group_id, member_id)


def _written(house: House, name: str, group_id: int, member_id: int | None) -> Copy:
    file = tempfile.TemporaryFile(dir=house.settings.data)  # noqa: SIM115
    try:
        with house.database.reading() as connection, ZipFile(file, "w") as archive:
            connection.execute("BEGIN")  # all that is read is of one moment
            _write(archive, Copying(connection, group_id, member_id), member_id is None)
        size = file.tell()
        file.seek(0)
    except BaseException:
        file.close()
        raise
    return Copy(name, size, file)


def _write(archive: ZipFile, copying: Copying, whole: bool) -> None:
    head = {
        "format": GROUP_FORMAT if whole else MEMBER_FORMAT,
        "version": VERSION,
        "rows": {table.name: copying.count(table) for table in copying.tables},
    }
    if not whole:
        _put(archive, HEAD, encode(head) + b"\n")
    for table in sorted((t for t in copying.tables if t.place), key=lambda table: table.place):
        if table.place == HEAD:
            (row,) = copying.rows(table)
            _put(archive, HEAD, encode({**head, "group": in_json(table, row)}) + b"\n")
        elif "{" in table.place:
            for row in copying.rows(table):
                name = table.place.format(**row)
                _put(archive, name, encode(in_json(table, row)) + b"\n")
                text = _TEXTS.get(table.name, _no_text)(row)
                if text:
                    _put(archive, name.replace(".json", ".txt"), text.encode())
        else:
            with archive.open(_entry(table.place), "w", force_zip64=True) as file:
                file.write(b"[")
                for at, row in enumerate(copying.rows(table)):
                    file.write((b",\n" if at else b"\n") + encode(in_json(table, row)))
                file.write(b"\n]\n")
            if table.name == RECORDINGS:
                # in the order of their names
                for row in sorted(copying.rows(table), key=lambda row: f"{row['number']}."):
                    _put(archive, recording_name(row), copying.content(row["number"]), ZIP_STORED)


def recording_name(row: Row) -> str:
    return f"recordings/{row['number']}.{SUFFIXES.get(row['media_type'], 'bin')}"


def _entry(name: str, compressed: int = ZIP_DEFLATED) -> ZipInfo:
    entry = ZipInfo(name, EARLIEST)
    entry.compress_type, entry.external_attr, entry.create_system = compressed, READABLE, UNIX
    return entry


def _put(archive: ZipFile, name: str, content: bytes, compressed: int = ZIP_DEFLATED) -> None:
    archive.writestr(_entry(name, compressed), content)


def in_json(table: Table, row: Row) -> Row:
    """A row as a copy has it: what is kept as JSON text stands in it as it is, null where there is none."""
    found = dict(row)
    for column in table.columns:
        if column.kind == JSON:
            text = found[column.name]
            found[column.name] = msgspec.Raw(text.encode()) if text else None
    for child in TABLES:
        if child.within is not None and child.within[0] == table.name and child.name in found:
            found[child.name] = [in_json(child, inner) for inner in found[child.name]]
    return found


def _lick_text(row: Row) -> str | None:
    """The newest revision as tab; none for a lick that is kept from everybody."""
    if row["erased"] or row["taken_down"]:
        return None
    lick = lick_of(lick_record(row["lick_revisions"][-1]["body"]))
    return f"{row['number']} {lick.name}\n\n{write_tab(lick_passage(lick))}"


def _tune_text(row: Row) -> str:
    record = tune_record(row["tune_revisions"][-1]["body"])
    melody = f"\n{record.melody}\n" if record.melody else ""
    head = f"{record.name}\n{record.key}, {record.meter}\n"
    return f"{head}\n{record.chart}\n{melody}"


def _no_text(row: Row) -> None:
    return None


_TEXTS: dict[str, Callable[[Row], str | None]] = {"licks": _lick_text, "tunes": _tune_text}
