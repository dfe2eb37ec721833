"""Adding, reading, changing and hiding tunes."""

from collections.abc import Sequence
from dataclasses import dataclass
from sqlite3 import Connection

from service.clock import stamp
from service.errors import Conflict, DomainError, NotFound, ReadingError
from service.music.tunes import Phrase, Tune
from service.notation.doubts import melody_doubts
from service.store import tunes as rows
from service.store.tunes import TuneRow
from service.usecases.audited import note
from service.usecases.house import House
from service.usecases.identify import Caller, reach_group
from service.usecases.names import has_words
from service.usecases.once import Once, write_once
from service.usecases.readings import off_the_loop
from service.usecases.records import (
    TuneRecord,
    check_slug,
    encode,
    in_plain_key,
    kept_tune,
    tune_of,
    tune_record,
    with_cuts_that_fit,
)
from service.usecases.spots import outline_of

NO_SLUGS = frozenset({"known", "due", "files"})  # lists that stand where a tune's page would


@dataclass(frozen=True, slots=True)
class KeptTune:
    slug: str
    revision: int
    record: TuneRecord
    tune: Tune


async def save_tune(
    house: House,
    caller: Caller,
    group_slug: str,
    slug: str,
    sent: TuneRecord,
    expected: int | None,
    once: Once[KeptTune] | None = None,
    *,
    fit_cuts: bool = False,
) -> KeptTune:
    """Add a tune (``expected`` None) or change it from revision ``expected``; with ``fit_cuts`` without cuts, and roles of their
    phrases, that do not fit the chart.

    Raises DomainError or ReadingError with every place to mend; Conflict if it exists or has changed.
    """
    group = reach_group(house, caller, group_slug, "change-tunes")
    if check_slug(slug) in NO_SLUGS:
        raise DomainError("word-in-use", slug=slug)
    text = sent.chart + (sent.melody or "")
    before = rows.tune_by_slug(house.database.points, group.id, slug)
    known = tune_record(before.body).melody if before else None  # of which nothing is asked back

    def read() -> tuple[TuneRecord, Tune]:
        if sent.melody and sent.melody != known and (doubts := melody_doubts(sent.melody)):
            raise ReadingError(doubts)
        kept = in_plain_key(sent)
        kept = with_cuts_that_fit(kept) if fit_cuts else kept
        return kept, tune_of(slug, kept)

    record, tune = await off_the_loop(read, text)
    body, spots, now = encode(record).decode(), outline_of(tune), stamp(house.clock())

    def unit(connection: Connection) -> KeptTune:
        revision = rows.save_tune(connection, group.id, slug, body, now, expected, spots)
        if revision is None:
            present = rows.tune_by_slug(connection, group.id, slug)
            if expected is None:
                raise Conflict("exists", what="tune", name=slug)
            if present is None:
                raise NotFound("not-found", what="tune")
            raise Conflict("changed", revision=present.revision)
        done = "add-tune" if expected is None else "change-tune"
        note(connection, caller, group.id, now, done, f"tune {slug}", revision=revision)
        return KeptTune(slug, revision, record, tune)

    return await write_once(house, caller, once, unit)


def get_tune(
    house: House, caller: Caller, group_slug: str, slug: str, action: str = "read-group"
) -> KeptTune:
    """The newest revision of a tune, for whoever may do ``action``. Raises NotFound."""
    group = reach_group(house, caller, group_slug, action)
    return kept(find_tune(house, group.id, slug))


def find_tune(house: House, group_id: int, slug: str) -> TuneRow:
    """The newest revision of a tune. Raises NotFound."""
    row = rows.tune_by_slug(house.database.points, group_id, slug)
    if row is None:
        raise NotFound("not-found", what="tune")
    return row


def phrase_numbered(form: Sequence[Phrase], number: int) -> Phrase:
    """Raises NotFound ``no-such-phrase``."""
    if not 1 <= number <= len(form):
        raise NotFound("no-such-phrase", phrase=number, phrases=len(form))
    return form[number - 1]


def kept(row: TuneRow) -> KeptTune:
    return KeptTune(
        row.slug, row.revision, tune_record(row.body), kept_tune(row.id, row.revision, row.slug, row.body)
    )


def list_tunes(
    house: House, caller: Caller, group_slug: str, after: str, limit: int, words: str
) -> Sequence[KeptTune]:
    """Tunes with later slugs; with ``words`` those that have all of them in their names."""
    group = reach_group(house, caller, group_slug, "read-group")
    found: list[KeptTune] = []
    while len(found) < limit and (page := rows.tunes_after(house.database.points, group.id, after, limit)):
        found += [one for one in map(kept, page) if has_words(one.tune.name, words)]
        after = page[-1].slug
    return found[:limit]


async def hide_tune(house: House, caller: Caller, group_slug: str, slug: str, revision: int) -> None:
    """Take a tune off the list; breaks that were made of it keep their codes."""
    group = reach_group(house, caller, group_slug, "change-tunes")
    now = stamp(house.clock())

    def unit(connection: Connection) -> None:
        if not rows.hide_tune(connection, group.id, slug, revision, now):
            present = rows.tune_by_slug(connection, group.id, slug)
            if present is None:
                raise NotFound("not-found", what="tune")
            raise Conflict("changed", revision=present.revision)
        note(connection, caller, group.id, now, "hide-tune", f"tune {slug}")

    await house.database.write(unit)
