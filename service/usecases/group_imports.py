"""A group brought in from a copy: read and checked as a whole, then written by one unit or not at all.

Numbers, codes and revisions stay what they were. Nobody can come in with an old token, and no post is sent again.
"""

import asyncio
import hashlib
import re
import zlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from datetime import date
from sqlite3 import Connection
from typing import Any, BinaryIO
from zipfile import BadZipFile, ZipFile, ZipInfo

import msgspec

from service.clock import moment, stamp
from service.errors import MOST_FAULTS, BreakwrightError, Conflict, DomainError, Fault
from service.music.harmony import key_named
from service.music.instruments import instrument_named
from service.music.licks import check_lick
from service.music.tunes import Tune, phrases
from service.store import challenges as challenge_rows
from service.store import groups as group_rows
from service.store import practice as practice_rows
from service.store.groups import GroupRow
from service.store.licks import RETIRED
from service.store.posts import LAPSED, SENT
from service.store.tables import DAY, FORMER, JSON, TABLES, TIME, Table
from service.store.whole import Row, RowRefused, bring_in, tried
from service.usecases.audited import note
from service.usecases.breaks import identity_of_break
from service.usecases.challenges import tell_clock
from service.usecases.evenings import ItemRecord
from service.usecases.facts import identity_of
from service.usecases.group_copies import GROUP_FORMAT, HEAD, RECORDINGS, VERSION, recording_name
from service.usecases.group_settings import check_settings, local_day, read_settings, settings_of, slot_of
from service.usecases.house import House
from service.usecases.identify import Caller, require
from service.usecases.recorded import recording_type
from service.usecases.records import (
    Rights,
    check_slug,
    encode,
    lick_of,
    lick_record,
    setting_of,
    setting_record,
    tune_of,
    tune_record,
)
from service.usecases.reminding import put_down
from service.usecases.spots import challenge_record
from service.usecases.weekly import set_weeks

# Ours: what a copy may unpack to for each byte that it may have itself (tab and JSON pack 6 to 8 times), and how many files.
UNPACKED, MOST_FILES = 8, 200_000
_TEXT = re.compile(r"(licks|tunes)/[a-z0-9-]{1,40}\.txt")
_KEYS = {"number": "[0-9]{1,7}", "slug": "[a-z][a-z0-9-]{0,39}"}
_NAME = re.compile(r"(?=.*\S)[^\x00-\x1f\x7f]{1,120}")  # as in the messages of the API
_CODE = re.compile(r"[0-9A-HJKMNP-TV-Z]{8}")
_PIECE = re.compile(rf"lick [0-9]{{1,7}}|break {_CODE.pattern}( [0-9]{{1,4}})?")
_DIGITS = re.compile(r"[0-9]{1,2000}")
_places = msgspec.json.Decoder(list[tuple[int, int, int]])
_BROKEN = (BadZipFile, NotImplementedError, RuntimeError, EOFError, zlib.error, ValueError)


@dataclass(slots=True)
class _Copy:
    """Rows by table, and where each stands, for messages."""

    rows: dict[str, list[Row]] = field(default_factory=lambda: {table.name: [] for table in TABLES})
    places: dict[str, list[str]] = field(default_factory=lambda: {table.name: [] for table in TABLES})
    faults: list[Fault] = field(default_factory=list)

    def each(self, table: str) -> Iterator[tuple[str, Row]]:
        yield from zip(self.places[table], self.rows[table], strict=True)

    @contextmanager
    def at(self, place: str) -> Iterator[None]:
        """Whatever is wrong within is wrong with this place."""
        try:
            yield
        except BreakwrightError as error:
            first = error.at[0] if error.at else Fault(error.code, error.params)
            self.faults.append(
                Fault(first.code, first.params, first.line, first.column, first.excerpt, path=place)
            )
        except (msgspec.MsgspecError, RecursionError, LookupError, TypeError, ValueError):
            # what its reader does not look for: it reads what the house has written itself
            self.faults.append(Fault("not-of-its-form", path=place))

    def settle(self) -> None:
        """Raises DomainError ``bad-import`` if anything was found."""
        if self.faults:
            raise DomainError("bad-import", at=self.faults[:MOST_FAULTS], count=len(self.faults))


@dataclass(frozen=True, slots=True)
class Imported:
    """The new group, and how many rows of each table came in."""

    group: GroupRow
    rows: dict[str, int]


async def import_group(
    house: House, caller: Caller, file: BinaryIO, slug: str | None, *, bind: bool
) -> Imported:
    """A new group from a copy, called ``slug`` or as it was; with ``bind`` it belongs to the chat server that it did.

    Raises DomainError ``no-copy``, ``other-version``, ``unpacks-too-large``, ``bad-import`` with every place; Conflict where the
    name or the server is taken.
    """
    require(caller, "import-group")
    now = house.clock()
    most = house.settings.group_import_mib << 20
    rows = await asyncio.to_thread(_read, file, most * UNPACKED, slug, stamp(now), bind)
    (group,) = rows["groups"]

    def unit(connection: Connection) -> Imported:
        group_id = bring_in(connection, rows)
        made = None if group_id is None else group_rows.group_by_id(connection, group_id)
        if made is None:
            if group_rows.group_by_slug(connection, group["slug"]) is None:
                raise Conflict("server-bound")
            raise Conflict("exists", what="group", name=group["slug"])
        under_way = challenge_rows.under_way(connection, made.id, "open")
        if under_way is not None:
            tell_clock(connection, made, under_way)
        set_weeks(connection, made, now)
        today = local_day(settings_of(made), now)
        for member_id in practice_rows.reminded(connection, made.id):
            put_down(connection, made, member_id, today)
        note(connection, caller, made.id, stamp(now), "import-group", f"group {made.slug}")
        return Imported(made, {table: len(found) for table, found in rows.items() if found})

    return await house.database.write(unit)


def _read(file: BinaryIO, most: int, slug: str | None, now: str, bind: bool) -> dict[str, list[Row]]:
    """The rows of a copy, ready to be brought in: all of it is sound, and was brought in once to see that it can be."""
    try:
        archive = ZipFile(file)
    except _BROKEN:
        raise DomainError("no-copy") from None
    with archive:
        entries = {entry.filename: entry for entry in archive.infolist()}
        if len(entries) != len(archive.infolist()):
            raise DomainError("no-copy")
        if len(entries) > MOST_FILES or sum(entry.file_size for entry in entries.values()) > most:
            raise DomainError("unpacks-too-large", most=most, files=MOST_FILES)
        copy = _Copy()
        _read_head(copy, archive, entries)
        for name, entry in entries.items():
            with copy.at(name):
                _read_file(copy, archive, entry)
        copy.settle()
        with copy.at(f"{HEAD} group"):
            _settle_group(copy.rows["groups"][0], slug, bind)
        _check(copy)
        _read_recordings(copy, archive, entries)
    copy.settle()
    _settle_posts(copy.rows["posts"], now, bind)
    _try(copy)
    return copy.rows


# --- files --------------------------------------------------------------------------------------------------


def _decoded(archive: ZipFile, entry: ZipInfo) -> Any:
    """Raises DomainError ``file-unreadable``."""
    try:
        return msgspec.json.decode(archive.read(entry))
    except (*_BROKEN, msgspec.MsgspecError, RecursionError):
        raise DomainError("file-unreadable") from None


def _read_head(copy: _Copy, archive: ZipFile, entries: dict[str, ZipInfo]) -> None:
    """Raises DomainError ``no-copy`` or ``other-version``."""
    head = _decoded(archive, entries[HEAD]) if HEAD in entries else None
    if not isinstance(head, dict) or head.get("format") != GROUP_FORMAT:
        raise DomainError("no-copy")
    if head.get("version") != VERSION:
        raise DomainError("other-version", version=str(head.get("version"))[:20], known=VERSION)
    _take(copy, TABLES[0], head.get("group"), f"{HEAD} group")
    copy.settle()


def _pattern(place: str) -> re.Pattern[str]:
    told = re.escape(place)
    for key, form in _KEYS.items():
        told = told.replace(re.escape(f"{{{key}}}"), f"(?P<key>{form})")
    return re.compile(told)


_PLACES = [(_pattern(table.place), table) for table in TABLES if table.place and table.along != "false"]


def _read_file(copy: _Copy, archive: ZipFile, entry: ZipInfo) -> None:
    name = entry.filename
    if name == HEAD or _TEXT.fullmatch(name) or name.startswith(f"{RECORDINGS}/"):
        return  # read already, for people, or read later
    for pattern, table in _PLACES:
        found = pattern.fullmatch(name)
        if found is None:
            continue
        content = _decoded(archive, entry)
        if "{" in table.place:
            kept = _take(copy, table, content, name)
            if kept is not None and str(kept[table.key]) != found["key"]:
                raise DomainError("not-of-its-form")
        elif isinstance(content, list):
            for at, row in enumerate(content):
                _take(copy, table, row, f"{name}[{at}]")
        else:
            raise DomainError("not-of-its-form")
        return
    raise DomainError("file-unknown")


def _take(copy: _Copy, table: Table, row: Any, place: str) -> Row | None:
    """A row as it is kept, and those that lie within it; None where something is wrong with it."""
    inner = [child for child in TABLES if child.within and child.within[0] == table.name]
    with copy.at(place):
        kept = _kept(table, row, {child.name for child in inner})
        nested = [(child, kept.pop(child.name)) for child in inner]
        copy.rows[table.name].append(kept)
        copy.places[table.name].append(place)
        for child, found in nested:
            if child.within is None or not isinstance(found, list):
                raise DomainError("not-of-its-form")
            for at, one in enumerate(found):
                before = len(copy.rows[child.name])
                _take(copy, child, one, f"{place} {child.name}[{at}]")
                for taken in copy.rows[child.name][before:]:
                    taken[child.within[2]] = kept[table.key]
        return kept
    return None


def _kept(table: Table, row: Any, inner: set[str]) -> Row:
    """Raises DomainError ``not-of-its-form``."""
    wanted = {column.name for column in table.columns} | inner | ({table.key} if table.counted else set())
    if not isinstance(row, dict) or set(row) != wanted:
        raise DomainError("not-of-its-form")
    if table.counted and not isinstance(row[table.key], int):
        raise DomainError("not-of-its-form")
    kept = dict(row)
    for column in table.columns:
        value = kept[column.name]
        if column.kind == JSON:
            kept[column.name] = None if value is None else encode(value).decode()
        elif isinstance(value, (list, dict)):
            raise DomainError("not-of-its-form")
        elif column.kind in _TIMES and value is not None:
            _check_time(column.kind, value)
    return kept


_TIMES: dict[str, Callable[[str], str]] = {
    TIME: lambda told: stamp(moment(told)),
    DAY: lambda told: date.fromisoformat(told).isoformat(),
}


def _check_time(kind: str, value: object) -> None:
    try:
        good = isinstance(value, str) and _TIMES[kind](value) == value
    except ValueError:
        good = False
    if not good:
        raise DomainError("no-time", value=str(value)[:40])


def _read_recordings(copy: _Copy, archive: ZipFile, entries: dict[str, ZipInfo]) -> None:
    named = {recording_name(row): (place, row) for place, row in copy.each(RECORDINGS)}
    for name in entries:
        if name.startswith(f"{RECORDINGS}/") and name not in named:
            copy.faults.append(Fault("file-unknown", path=name))
    for name, (place, row) in named.items():
        with copy.at(name):
            if name not in entries:
                raise DomainError("file-missing", place=place)
            try:
                content = archive.read(entries[name])
            except _BROKEN:
                raise DomainError("file-unreadable") from None
            if recording_type(content) != row["media_type"]:
                raise DomainError("not-of-its-form")
            row |= {"content": content, "digest": hashlib.sha256(content).digest()}


# --- what the house knows of each -----------------------------------------------------------------------------


def _settle_group(group: Row, slug: str | None, bind: bool) -> None:
    """The new group's name; without ``bind`` its server and channel are left behind."""
    group["slug"] = slug or group["slug"]
    if not bind:
        group |= {"platform": None, "server_id": None}
        settings = read_settings(group["settings"] or "{}")
        group["settings"] = encode(msgspec.structs.replace(settings, channel=None)).decode()


def _settle_posts(posts: list[Row], now: str, bind: bool) -> None:
    """Nothing is sent again, and what was sent to a server that is left behind cannot be changed there."""
    posts.sort(key=lambda row: row["number"])
    for row in posts:
        if row["state"] != LAPSED and not (bind and row["state"] == SENT):
            row |= {"state": LAPSED, "done": row["done"] or now}


def _check(copy: _Copy) -> None:
    """Music can be read, and what stands in JSON names what is there. Everything found wrong is kept with its place."""
    (head,) = copy.rows["groups"]
    with copy.at(f"{HEAD} group"):
        check_slug(head["slug"])
        instrument_named(head["instrument"]).tuning(head["tuning"])
        slot_of(check_settings(read_settings(head["settings"] or "")))
        _check_name(head["name"])
    for place, row in copy.each("members"):
        with copy.at(place):
            if row["erased"] is None:
                _check_name(row["name"])
            else:
                row["name"] = f"{FORMER}{row['number']}"
    tunes = _tunes(copy)
    licks = _licks(copy)
    _breaks(copy, head["slug"], tunes, licks)
    for place, row in copy.each("challenges"):
        with copy.at(place):
            challenge_record(row["record"] or "")
            _check_there((row["tune_id"], row["tune_revision"]), tunes)
            if row["lick"] is not None:
                _check_there((row["lick"], row["lick_revision"]), licks)
    for place, row in copy.each("variations"):
        with copy.at(place):
            if row["body"] is not None:
                lick = lick_of(lick_record(row["body"]))
                check_lick(lick)
                row["identity"] = identity_of(lick)
    for table, column, form in (
        ("posts", "params", dict),
        ("audit", "params", dict),
        ("borrowed", "rights", Rights),
        ("evenings", "record", tuple[ItemRecord, ...]),
    ):
        for place, row in copy.each(table):
            with copy.at(place):
                msgspec.json.decode(row[column] or "", type=form)
    for place, row in copy.each("known_tunes"):
        with copy.at(place):
            for key in row["sings_in"].split():
                key_named(key)
    for table in ("lessons", "practice_logs", "reminders"):
        for place, row in copy.each(table):
            with copy.at(place):
                if not _PIECE.fullmatch(str(row["piece"])):
                    raise DomainError("not-of-its-form")


def _check_name(name: object) -> None:
    if not isinstance(name, str) or not _NAME.fullmatch(name):
        raise DomainError("not-of-its-form")


def _check_there(wanted: tuple[object, object], known: Mapping[tuple[object, object], object]) -> None:
    if wanted not in known:
        raise DomainError("refers-to-none", name=f"{wanted[0]}, revision {wanted[1]}")


def _newest_there(copy: _Copy, table: str, key: str, known: Mapping[tuple[object, object], object]) -> None:
    for place, row in copy.each(table):
        with copy.at(place):
            _check_there((row[key], row["revision"]), known)


def _tunes(copy: _Copy) -> dict[tuple[object, object], Tune]:
    """Every revision of every tune."""
    found: dict[tuple[object, object], Tune] = {}
    for place, row in copy.each("tune_revisions"):
        with copy.at(place):
            slug = check_slug(row["tune_id"])
            found[slug, row["revision"]] = tune_of(slug, tune_record(row["body"] or ""))
    _newest_there(copy, "tunes", "slug", found)
    return found


def _licks(copy: _Copy) -> dict[tuple[object, object], None]:
    """Every revision of every lick; those that were erased say nothing, and like those taken down are in no pool."""
    erased = {row["number"] for row in copy.rows["licks"] if row["erased"] is not None}
    hidden = erased | {row["number"] for row in copy.rows["taken_down"]}
    for row in copy.rows["licks"]:
        if row["number"] in hidden:
            row["state"] = RETIRED
    found: dict[tuple[object, object], None] = {}
    for place, row in copy.each("lick_revisions"):
        with copy.at(place):
            found[row["number"], row["revision"]] = None
            if row["number"] in erased:
                row["body"] = ""
                continue
            check_lick(lick_of(lick_record(row["body"] or "")))
    _newest_there(copy, "licks", "number", found)
    return found


def _breaks(
    copy: _Copy,
    group: str,
    tunes: Mapping[tuple[object, object], Tune],
    licks: Mapping[tuple[object, object], None],
) -> None:
    numbered = {row["code"] for row in copy.rows["break_numbers"]}
    for place, row in copy.each("breaks"):
        with copy.at(place):
            which = (row["tune_id"], row["tune_revision"])
            _check_there(which, tunes)
            tune = tunes[which]
            setting_of(setting_record(row["setting"] or ""), tune)
            places = _places.decode(row["licks"] or "")
            for _, number, revision in places:
                _check_there((number, revision), licks)
            ends = [*(phrase for phrase, _, _ in places[1:]), len(phrases(tune)) + 1]
            begins = [phrase for phrase, _, _ in places]
            if begins[:1] != [1] or any(end <= begin for begin, end in zip(begins, ends, strict=True)):
                raise DomainError("not-of-its-form")
            if not _CODE.fullmatch(str(row["code"])) or row["code"] not in numbered:
                raise DomainError("not-of-its-form")
            row["identity"] = identity_of_break(group, *which, tune, row["setting"], row["licks"])
    for place, row in copy.each("break_numbers"):
        with copy.at(place):
            if not all(
                isinstance(row[name], str) and _DIGITS.fullmatch(row[name]) for name in ("number", "total")
            ):
                raise DomainError("not-of-its-form")


def _try(copy: _Copy) -> None:
    """Bring everything into a database in memory. Raises DomainError ``bad-import`` with the first row that cannot be."""
    with closing(tried()) as connection:
        try:
            bring_in(connection, copy.rows)
        except RowRefused as refused:
            place = copy.places[refused.table][refused.at]
            fault = Fault(f"row-{refused.why}", {"column": refused.column}, path=place)
            raise DomainError("bad-import", at=[fault], count=1) from None
