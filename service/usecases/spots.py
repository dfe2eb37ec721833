"""Phrases of a group's tunes that a challenge can be about, and what one of them asks for."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from sqlite3 import Connection

import msgspec

from service.compose.matching import changes_over
from service.errors import DomainError, NotFound
from service.groups.rotation import Spot, next_spot
from service.groups.work_ups import Goal, goals
from service.music.harmony import key_named
from service.music.instruments import instrument_named
from service.music.licks import Change
from service.music.setting import Setting, make_setting
from service.music.tunes import Phrase, Tune
from service.store import challenges as rows
from service.store import licks as lick_rows
from service.store import tunes as tune_rows
from service.store.challenges import ChallengeRow
from service.store.groups import GroupRow
from service.store.licks import FirstChoice
from service.store.tunes import TuneRow
from service.usecases.group_settings import settings_of
from service.usecases.records import (
    SettingRecord,
    choose_setting,
    kept_form,
    kept_tune,
    record_of,
    tune_record,
)

MOST_TUNES = 500  # of a group that are looked at for a draw
REMEMBERED = 2000  # challenges of a group that a draw looks back on


class ChallengeRecord(msgspec.Struct, frozen=True):
    """What is kept of a challenge beside its columns. ``chords`` are those of the phrase in the playing position; ``goals``
    are [level, bpm, ladder of tempos] in the tune's own beats, ``unit`` says which."""

    tune_name: str
    role: str
    setting: SettingRecord
    sounding: str
    chords: str
    unit: str
    goals: list[tuple[int, int, list[int]]]
    lick_name: str | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Place:
    """A phrase of a tune, as one instrument plays it."""

    row: TuneRow
    tune: Tune
    phrase: Phrase
    setting: Setting

    @property
    def changes(self) -> tuple[Change, ...]:
        """In the playing position, from the start of the phrase."""
        return changes_over((self.phrase,), self.setting, self.tune)


def place_of(row: TuneRow, phrase: int, instrument: str, tuning: str | None) -> Place:
    """Raises NotFound ``no-such-phrase``."""
    tune, form = _tune(row), _form(row)
    if not 1 <= phrase <= len(form):
        raise NotFound("no-such-phrase", phrase=phrase, phrases=len(form))
    return Place(row, tune, form[phrase - 1], choose_setting(tune_record(row.body), tune, instrument, tuning))


def place_of_challenge(connection: Connection, row: ChallengeRow, instrument: str | None = None) -> Place:
    """Where a challenge is, in the revision of the tune it was made from; on another instrument if asked."""
    found = tune_rows.tune_revision(connection, row.tune_id, row.tune_revision)
    if found is None:
        raise NotFound("not-found", what="tune")
    tune = _tune(found)
    own = setting_of_challenge(challenge_record(row.record))
    if instrument is not None and instrument != own.instrument.id:
        own = choose_setting(tune_record(found.body), tune, instrument, None)
    return Place(found, tune, _form(found)[row.phrase - 1], own)


def plain_numbers(place: Place) -> dict[tuple[str, int], int]:
    """Numbers of the licks of the plain break, by part and phrase of the part, on the place's instrument."""
    plain = tune_record(place.row.body).plain.get(place.setting.instrument.id, {})
    return {
        (part, index): number
        for part, licks in plain.items()
        for index, number in enumerate(licks, 1)
        if number
    }


_decoder = msgspec.json.Decoder(ChallengeRecord)


def challenge_record(body: str) -> ChallengeRecord:
    return _decoder.decode(body)


@lru_cache(maxsize=1024)
def _made(record: SettingRecord, sounding: str) -> Setting:
    return make_setting(
        instrument_named(record.instrument),
        tuning=record.tuning,
        sounding=key_named(sounding),
        position=record.position,
        capo=record.capo,
        stop=record.stop,
    )


def setting_of_challenge(record: ChallengeRecord) -> Setting:
    return _made(record.setting, record.sounding)


def make_record(place: Place, lick_name: str | None, top: int | None, note: str) -> ChallengeRecord:
    """``top`` is the base lick's comfortable top tempo in the tune's beats."""
    tempo = place.tune.tempo
    found: tuple[Goal, ...] = goals(tempo.low, tempo.start, tempo.high, top)
    return ChallengeRecord(
        tune_name=place.tune.name,
        role=place.phrase.role,
        setting=record_of(place.setting),
        sounding=place.tune.key.name,
        chords=" ".join("N.C." if change.chord is None else change.chord.name for change in place.changes),
        unit=tempo.unit,
        goals=[(goal.level, goal.bpm, list(goal.ladder)) for goal in found],
        lick_name=lick_name,
        note=note,
    )


def _tune(row: TuneRow) -> Tune:
    return kept_tune(row.id, row.revision, row.slug, row.body)


def _form(row: TuneRow) -> tuple[Phrase, ...]:
    return kept_form(row.id, row.revision, row.slug, row.body)


# --- drawing ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Drawn:
    """A place that was drawn, with the lick of the tune's plain break there, if it has one."""

    place: Place
    lick: FirstChoice | None


def draw_place(connection: Connection, group: GroupRow) -> Drawn | None:
    """The phrase whose turn it is, by the rule of service/groups/rotation.py. None where the group has no tune to draw from."""
    settings = settings_of(group)
    found: dict[tuple[str, str, int], Drawn] = {}
    spots = []
    for row in tune_rows.tunes_after(connection, group.id, "", MOST_TUNES):
        for drawn in _drawable(connection, group, row):
            phrase = drawn.place.phrase
            key = (row.slug, phrase.part, phrase.index)
            found[key] = drawn
            spots.append(Spot(*key, phrase.role, None if drawn.lick is None else drawn.lick.level))
    past = rows.past_spots(connection, group.id, REMEMBERED)
    chosen = next_spot(spots, past, settings.levels, f"{group.slug}:{len(past)}")
    return None if chosen is None else found[chosen.tune, chosen.part, chosen.index]


def _drawable(connection: Connection, group: GroupRow, row: TuneRow) -> Iterator[Drawn]:
    """Each phrase of each part once, as the group's own instrument plays it."""
    try:
        tune, form = _tune(row), _form(row)
        setting = choose_setting(tune_record(row.body), tune, group.instrument, group.tuning)
    except DomainError:
        return  # it cannot be played so: another tune is drawn
    places = {(phrase.part, phrase.index): Place(row, tune, phrase, setting) for phrase in reversed(form)}
    plain = plain_numbers(next(iter(places.values())))
    licks = lick_rows.first_choices(connection, group.id, sorted(set(plain.values())))
    for key, place in places.items():
        yield Drawn(place, licks.get(plain.get(key, 0)))
