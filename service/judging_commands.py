"""``breakwright judge`` and ``breakwright licks``: what the API says of licks, at a terminal."""

import argparse
import textwrap
from collections.abc import Sequence

import msgspec

from schemas.base import Sentence
from schemas.judgements import LickJudgementOut, VersionOut
from service.errors import BreakwrightError
from service.judge.easier import easier_versions
from service.music.instruments import STYLES, instrument_named
from service.music.licks import Lick
from service.notation.tab_writer import write_tab
from service.settings import Settings
from service.store.groups import group_by_slug
from service.usecases import judging
from service.usecases.identify import AT_THE_MACHINE
from service.usecases.judging import Judged, Move, Named, Sent, moved_lick, read_and_judge
from service.usecases.licks import in_hand
from service.web.judged import (
    candidate_out,
    easier_out,
    judged_out,
    left_fingers,
    moved_out,
    seam_out,
    twin_out,
)
from service.wording import said

WIDE_FROM = 60  # columns from which several measures stand side by side
LANGUAGE = "en"


def judge_file(given: argparse.Namespace, text: str) -> int:
    """Judge a lick as text and print everything asked for. Raises ReadingError or DomainError with places."""
    hand_style = _hand_style(given.instrument, given.style)
    judged, named = read_and_judge(
        Sent(
            text, given.instrument, given.key, given.chords, hand_style, given.style, given.role, given.tuning,
            given.meter, bpm=given.bpm,
        )
    )  # fmt: skip
    shown = judged_out(judged, LANGUAGE)
    if given.json:
        print(msgspec.json.encode(shown).decode())
        return 0
    _show_judged(judged, shown, given.width, None if given.chords else named)
    if given.easier:
        _show_versions(
            [easier_out(v, LANGUAGE) for v in easier_versions(judged.lick, bpm=given.bpm)], given.width
        )
    move = Move(given.to_chord, given.to_key, None, given.steps, given.other)
    if move != Move():
        _show_versions([moved_out(moved_lick(judged.lick, move), LANGUAGE)], given.width)
    return 0


def _hand_style(instrument: str, style: str | None) -> str | None:
    """The hand style of an instrument that has this style."""
    if style is None:
        return None
    return next((h for h in instrument_named(instrument).hand_styles if style in STYLES[h]), None)


def _show_judged(judged: Judged, shown: LickJudgementOut, width: int, named: Named | None) -> None:
    left = left_fingers(judged.lick, judged.judgement.hands)
    print(_tab(judged.lick, width, left))
    if named is not None:
        names = ", ".join(f"{of[0][0]} ({round(100 * of[0][1])}\N{NO-BREAK SPACE}%)" for of in named)
        _print(f"Chords, as they seem: {names}", width)
    _say(shown.level.reasons[:1] + shown.reasons, width)
    for limit in shown.hands.limits:
        _print(f"What limits it: {limit.text}", width)


def _tab(lick: Lick, width: int, left: dict[tuple[int, int], int]) -> str:
    return write_tab(in_hand(lick), width=width, phone=width < WIDE_FROM, left=left)


def _show_versions(versions: Sequence[VersionOut], width: int) -> None:
    for version in versions:
        top = "" if version.top is None else f", comfortable up to {version.top.unit} = {version.top.bpm}"
        _print(f"{version.chords}  level {version.level}{top}", width)
        _say(version.reasons, width)
        print(version.tab)
    if not versions:
        _print("There is no easier version that keeps what counts.", width)


def _say(sentences: Sequence[Sentence], width: int) -> None:
    for one in sentences:
        _print(f"{one.text} {one.advice}" if one.advice else one.text, width)


def _print(text: str, width: int) -> None:
    """A sentence, its lines no longer than ``width``."""
    print("\n".join(textwrap.wrap(text, width, break_on_hyphens=False)))


async def show_licks(given: argparse.Namespace, settings: Settings) -> int:
    """Print what the pool has for a phrase, or what is judged of a lick."""
    from service.app import open_house

    async with open_house(settings) as house:
        try:
            if group_by_slug(house.database.points, given.group) is None:
                _print(f"There is no group called {given.group} here.", given.width)
                return 1
            if given.lick is None:
                if given.tune is None or given.phrase is None:
                    _print("Give --tune and --phrase, or --lick.", given.width)
                    return 2
                found = await judging.candidates(
                    house,
                    AT_THE_MACHINE,
                    given.group,
                    given.tune,
                    given.phrase,
                    given.instrument,
                    None,
                    0,
                    given.most,
                )
                for place, candidate in enumerate(found.ranked, 1):
                    pooled = found.of[candidate.number, candidate.revision]
                    out = candidate_out(candidate, pooled, found.tune, found.phrase, LANGUAGE)
                    _print(f"{place}. {out.name} ({out.number}), level {out.level}", given.width)
                    _say(out.reasons, given.width)
                return 0
            judged = judging.judge_kept(
                house, AT_THE_MACHINE, given.group, given.lick, given.tune, given.phrase, given.bpm
            )
            _show_judged(judged, judged_out(judged, LANGUAGE), given.width, None)
            if given.into is not None:
                seam = judging.join_of(house, AT_THE_MACHINE, given.group, given.lick, given.into, given.bpm)
                _print(f"Into lick {given.into}:", given.width)
                _say(seam_out(seam, LANGUAGE).reasons, given.width)
            if given.twins:
                kept, twins = await judging.twins_of(house, AT_THE_MACHINE, given.group, given.lick)
                for twin, lick in twins:
                    _print(twin_out(twin, kept.lick, lick, LANGUAGE).text, given.width)
                if not twins:
                    _print("No lick of the pool is like it.", given.width)
            if given.easier:
                versions = await judging.easier_of(house, AT_THE_MACHINE, given.group, given.lick, given.bpm)
                _show_versions([easier_out(version, LANGUAGE) for version in versions], given.width)
        except BreakwrightError as error:
            _print(said(error), given.width)
            return 1
    return 0
