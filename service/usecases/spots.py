"""Phrases of a group's tunes that a challenge can be about, and what one of them asks for."""

from collections.abc import Sequence
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
from service.music.tunes import Phrase, Tune, phrases
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
    encode,
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
    return _plain(place.row, place.setting.instrument.id)


def _plain(row: TuneRow, instrument: str) -> dict[tuple[str, int], int]:
    plain = tune_record(row.body).plain.get(instrument, {})
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


class _Outline(msgspec.Struct, frozen=True):
    """The phrases of a tune, those of each part once: (part, phrase of the part, role, first number in playing order). ``by`` is
    the version of roles it was made by."""

    by: int
    phrases: list[tuple[str, int, str, int]]


_outline_decoder = msgspec.json.Decoder(_Outline)
OUTLINE = 1  # raise it when phrases or their roles come out otherwise: what was kept by another version is made again


def outline_of(tune: Tune) -> str:
    """What is kept of a tune so that a draw need not read every tune of a group."""
    return encode(_outlined(phrases(tune))).decode()


def _outlined(form: Sequence[Phrase]) -> _Outline:
    first = {(phrase.part, phrase.index): phrase for phrase in reversed(form)}
    return _Outline(OUTLINE, [(*key, phrase.role, phrase.number) for key, phrase in first.items()])


def _outline(row: TuneRow) -> _Outline:
    """As it was kept, or made now; without phrases where the tune cannot be read."""
    kept = None if row.spots is None else _outline_decoder.decode(row.spots)
    if kept is not None and kept.by == OUTLINE:
        return kept
    try:
        return _outlined(_form(row))
    except DomainError:
        return _Outline(OUTLINE, [])


@dataclass(frozen=True, slots=True)
class Drawn:
    """A place that was drawn, with the lick of the tune's plain break there, if it has one."""

    place: Place
    lick: FirstChoice | None


def draw_place(connection: Connection, group: GroupRow) -> Drawn | None:
    """The phrase whose turn it is, as the group's own instrument plays it, by the rule of service/groups/rotation.py. None where
    the group has no tune to draw from."""
    settings = settings_of(group)
    past = rows.past_spots(connection, group.id, REMEMBERED)
    tunes = {row.slug: row for row in tune_rows.tunes_after(connection, group.id, "", MOST_TUNES)}
    licks = {slug: _first_licks(connection, group, row) for slug, row in tunes.items()}
    outlines = {slug: _outline(row) for slug, row in tunes.items()}
    while True:
        spots, numbers = [], {}
        for slug in tunes:
            for part, index, role, number in outlines[slug].phrases:
                lick = licks[slug].get((part, index))
                spots.append(Spot(slug, part, index, role, None if lick is None else lick.level))
                numbers[slug, part, index] = number
        chosen = next_spot(spots, past, settings.levels, f"{group.slug}:{len(past)}")
        if chosen is None:
            return None
        try:
            place = place_of(tunes[chosen.tune], numbers[chosen.place], group.instrument, group.tuning)
        except DomainError:
            del tunes[chosen.tune]  # it cannot be played so: another one is drawn
            continue
        return Drawn(place, licks[chosen.tune].get((chosen.part, chosen.index)))


def _first_licks(connection: Connection, group: GroupRow, row: TuneRow) -> dict[tuple[str, int], FirstChoice]:
    """Licks of a tune's plain break that are in the pool, by part and phrase of the part."""
    plain = _plain(row, group.instrument)
    licks = lick_rows.first_choices(connection, group.id, sorted(set(plain.values())))
    return {key: licks[number] for key, number in plain.items() if number in licks}
