"""Sheets of tunes, and what is played behind others, before and after."""

from dataclasses import replace
from typing import Annotated

from litestar import Response, get
from litestar.di import NamedDependency
from litestar.params import FromPath, QueryParameter, SkipValidation

from service.engrave.sheets import Sheet
from service.errors import DomainError, NotFound
from service.music.backup_patterns import pattern_named
from service.music.scores import Score
from service.usecases.breaks import get_break
from service.usecases.tune_scores import (
    SetTune,
    backup_score,
    ending_score,
    kick_off_score,
    set_tune,
    stock,
)
from service.web.files import Ask, answer, sheet_answer
from service.web.options import Drawing, Sounding
from service.web.parts import Asked, caller_of, house_of, language, problems
from service.web.routes.breaks import InstrumentChoice, TuningChoice
from service.web.routes.files import OPTIONS
from service.web.subjects import Load, Shown, Subject, break_subject
from service.web.tune_sheets import Player, booklet_sheet, card_sheet, stock_sheet
from service.wording import say

MOST_BREAKS = 40  # in a booklet; ours: an evening has fewer
MOST_PLAYERS = 24
SUFFIXES = ("svg", "png", "pdf")
Drawn = NamedDependency[SkipValidation[Drawing]]
Sounded = NamedDependency[SkipValidation[Sounding]]
PatternChoice = Annotated[
    str | None,
    QueryParameter(name="pattern", max_length=60, description="Of backup: the usual one without it."),
]
Fills = Annotated[
    list[int] | None,
    QueryParameter(
        name="fill", max_items=64, description="Of backup: measures to be filled, repeats written out."
    ),
]
Players = Annotated[
    list[str] | None,
    QueryParameter(
        name="player", max_items=MOST_PLAYERS, description="Who plays which break: NAME:CODE, or NAME:words."
    ),
]
Breaks = Annotated[
    list[str],
    QueryParameter(name="break", min_items=1, max_items=MOST_BREAKS, description="Codes of breaks."),
]


def _set(request: Asked, group: str, tune: str, instrument: str | None, tuning: str | None) -> SetTune:
    return set_tune(house_of(request), caller_of(request), group, tune, instrument, tuning)


def _identity(of: SetTune, kind: str, *more: object) -> tuple[object, ...]:
    setting = of.setting
    return (
        kind, of.tune.slug, of.revision, setting.instrument.id, setting.tuning.id, setting.position.name, setting.capo,
        setting.stop, *more,
    )  # fmt: skip


def _shown(of: SetTune, kind: str, *more: object) -> Shown:
    return Shown(of.group.id, _identity(of, kind, *more), f"{of.tune.slug}-{kind}")


@get(
    "/v1/groups/{group:str}/tunes/{tune:str}/{what:str}",
    tags=["files"],
    summary="A card to play from, or all licks of a tune by phrase",
    dependencies=OPTIONS,
    media_type="application/octet-stream",
    responses=problems(422, 503),
)
async def of_tune(
    request: Asked,
    group: FromPath[str],
    tune: FromPath[str],
    what: FromPath[str],
    drawing: Drawn,
    sounding: Sounded,
    instrument: InstrumentChoice = None,
    tuning: TuningChoice = None,
    player: Players = None,
) -> Response[bytes]:
    stem, _, suffix = what.partition(".")
    if stem not in ("card", "licks") or suffix not in SUFFIXES:
        known = ", ".join(f"{stem}.{suffix}" for stem in ("card", "licks") for suffix in SUFFIXES)
        raise NotFound("no-such-file", what=what, known=known)
    of, spoken = _set(request, group, tune, instrument, tuning), language(request)
    house = house_of(request)
    if stem == "card":
        players = [_player(text) for text in player or ()]

        async def card() -> Sheet:
            return await house.think(lambda: card_sheet(of, players, drawing, spoken))

        return await sheet_answer(Ask(request, _shown(of, "card", player), what, drawing, sounding), card)

    async def licks() -> Sheet:
        stocked = await stock(house, of)
        return await house.think(lambda: stock_sheet(of, stocked, drawing, spoken))

    # which licks they are depends on the pool
    shown = _shown(of, "licks", of.group.pool_version)
    return await sheet_answer(Ask(request, shown, what, drawing, sounding), licks)


def _player(text: str) -> Player:
    name, colon, played = text.partition(":")
    if not colon or not name.strip() or not played.strip():
        raise DomainError("bad-player", player=text)
    return Player(name.strip(), played.strip())


@get(
    "/v1/groups/{group:str}/tunes/{tune:str}/{played:str}/{what:str}",
    tags=["files"],
    summary="What an instrument plays behind others (backup), before (kick-off) and after (ending)",
    dependencies=OPTIONS,
    media_type="application/octet-stream",
    responses=problems(422, 503),
)
async def around_the_tune(
    request: Asked,
    group: FromPath[str],
    tune: FromPath[str],
    played: FromPath[str],
    what: FromPath[str],
    drawing: Drawn,
    sounding: Sounded,
    instrument: InstrumentChoice = None,
    tuning: TuningChoice = None,
    pattern: PatternChoice = None,
    fills: Fills = None,
) -> Response[bytes]:
    of, house = _set(request, group, tune, instrument, tuning), house_of(request)
    if played not in ("backup", *FRAMES):
        raise NotFound("no-such-file", what=played, known=", ".join(("backup", *FRAMES)))
    name = pattern_named(of.setting.instrument.id, of.tune.meter, pattern).name if played == "backup" else ""
    shown = Shown(
        of.group.id, _identity(of, played, name, sorted(set(fills or ()))), f"{of.tune.slug}-{played}"
    )

    def scored() -> Score:
        # a chart's easiest voicings are searched for, which may take a while
        if played == "backup":
            return backup_score(of, name, drawing.tempo, fills or ())
        return FRAMES[played](of, drawing.tempo)

    async def load() -> Subject:
        score = await house.think(scored)
        title = say(f"sheet-{played}", {"pattern": name}, language(request))
        titled = replace(score, title=f"{of.tune.name}: {title}")
        return Subject(shown.group_id, shown.identity, shown.name, titled, ((0, of.rights),))

    return await answer(Ask(request, shown, what, drawing, sounding, load))


FRAMES = {"kick-off": kick_off_score, "ending": ending_score}


@get(
    "/v1/groups/{group:str}/booklet.pdf",
    tags=["files"],
    summary="A booklet of breaks for the evening, all instruments of a tune together",
    dependencies=OPTIONS,
    media_type="application/pdf",
    responses=problems(422, 503),
)
async def booklet(
    request: Asked, group: FromPath[str], breaks: Breaks, drawing: Drawn, sounding: Sounded
) -> Response[bytes]:
    house, caller, spoken = house_of(request), caller_of(request), language(request)
    found: list[tuple[SetTune, Shown, Load]] = []
    for code in dict.fromkeys(code for sent in breaks for code in sent.split(",")):
        shown, load = break_subject(house, caller, group, code, spoken, drawing.tempo)
        made = get_break(house, caller, group, code)
        setting = made.setting
        of = set_tune(house, caller, group, made.tune.slug, setting.instrument.id, setting.tuning.id)
        found.append((of, shown, load))
    name = found[0][0].group.name
    identity = (
        "booklet",
        name,
        [shown.identity for _, shown, _ in found],
        [of.revision for of, _, _ in found],
    )

    async def sheet() -> Sheet:
        pages = [(of, await load()) for of, _, load in found]
        return await house.think(lambda: booklet_sheet(name, pages, drawing, spoken))

    booklet_shown = Shown(found[0][1].group_id, identity, "booklet")
    return await sheet_answer(Ask(request, booklet_shown, "sheet.pdf", drawing, sounding), sheet)


ROUTES = [of_tune, around_the_tune, booklet]
