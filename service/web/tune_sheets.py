"""Sheets of tunes: all licks by phrase, a card to play from, a booklet for the evening."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from service.engrave.charts import chart_of
from service.engrave.sheets import (
    Block,
    Chart,
    Credits,
    Heading,
    NewPage,
    Shapes,
    Sheet,
    Stock,
    Table,
    Tempo,
    Title,
)
from service.usecases.playing import setting_of_score
from service.usecases.records import Rights
from service.usecases.scores import tune_beat
from service.usecases.tune_scores import SetTune, Stocked, ending_score, kick_off_score
from service.web.charted import chords_line
from service.web.drawn import SEPARATOR, music_of, page_foot, shapes_of
from service.web.options import Drawing
from service.web.subjects import Subject, behind_capo, capo_of, credits, set_up
from service.wording import say, word

CARD_CHART = 1.6  # the chart of a card is read from a stand across a room; ours


@dataclass(frozen=True, slots=True)
class Player:
    """Who plays which break; ``what`` may be any words."""

    name: str
    what: str


def stock_sheet(of: SetTune, stocked: Sequence[Stocked], drawing: Drawing, language: str) -> Sheet:
    """A tune's whole stock of licks, phrase by phrase, best first."""
    title = say("sheet-stock", {"tune": of.tune.name}, language)
    blocks: list[Block] = [Title(title, _lines(of, language)), Tempo(tune_beat(of.tune, drawing.tempo))]
    rights = {0: of.rights}
    for place in stocked:
        phrase = place.phrase
        last = phrase.measure + max(1, round(phrase.ticks / of.tune.meter.measure_ticks)) - 1
        told = {
            "phrase": phrase.number,
            "part": phrase.part,
            "first": phrase.measure,
            "last": last,
            "role": say(f"role-{phrase.role}", {}, language),
        }
        chords = chords_line(
            [replace(c, chord=of.setting.to_position(c.chord, of.tune.key)) for c in phrase.changes]
        )
        empty = [] if place.licks else [say("sheet-stock-empty", {}, language)]
        blocks.append(Heading(say("sheet-phrase", told, language), (chords, *empty)))
        blocks.append(Stock(tuple(music_of(score, drawing, paper=False) for _, score in place.licks)))
        rights |= {kept.number: kept.record.rights for kept, _ in place.licks}
    blocks.append(Credits(credits(tuple(rights.items()), language)))
    return Sheet(title, title, page_foot(language), tuple(blocks))


def card_sheet(of: SetTune, players: Sequence[Player], drawing: Drawing, language: str) -> Sheet:
    """One page to play from: setting, big chart, who plays what, kick-off, ending."""
    moved = of.setting.position.tonic - of.tune.key.tonic
    blocks: list[Block] = [
        Title(of.tune.name, _lines(of, language)),
        Tempo(tune_beat(of.tune, drawing.tempo)),
        Chart(chart_of(of.tune, moved), CARD_CHART),
    ]
    if players:
        blocks.append(Table(tuple((player.name, player.what) for player in players)))
    if drawing.shapes:
        chords = dict.fromkeys(
            chord
            for phrase in of.form
            for change in phrase.changes
            if (chord := of.setting.to_position(change.chord, of.tune.key)) is not None
        )
        setting = of.setting
        blocks.append(Shapes(tuple(chords), setting.instrument, setting.tuning, setting.capo))
    for code, score in (
        ("sheet-kick-off", kick_off_score(of, None)),
        ("sheet-ending", ending_score(of, None)),
    ):
        blocks.append(Heading(say(code, {}, language)))
        blocks.append(music_of(score, drawing, paper=False))
    blocks.append(Credits(credits(((0, of.rights),), language)))
    return Sheet(of.tune.name, _told(of, language), page_foot(language), tuple(blocks), fit="one")


def booklet_sheet(
    name: str, breaks: Sequence[tuple[SetTune, Subject]], drawing: Drawing, language: str
) -> Sheet:
    """The evening's breaks: a list of tunes, then each tune's chart once with its breaks for all instruments."""
    tunes = list(dict.fromkeys(of.tune.slug for of, _ in breaks))
    first = {of.tune.slug: of for of, _ in reversed(breaks)}
    listed = []
    for slug in tunes:
        of = first[slug]
        instruments = dict.fromkeys(_instrument(o, language) for o, _ in breaks if o.tune.slug == slug)
        listed.append(
            (of.tune.name, say("sheet-key", {"key": of.tune.key.name}, language), ", ".join(instruments))
        )
    blocks: list[Block] = [Title(name), Heading(say("sheet-contents", {}, language)), Table(tuple(listed))]
    rights: list[tuple[int | None, Rights]] = []
    for slug in tunes:
        of = first[slug]
        order = say("sheet-order", {"order": " ".join(of.tune.order)}, language)
        key = say("sheet-key", {"key": of.tune.key.name}, language)
        blocks += [NewPage(), Title(of.tune.name, (SEPARATOR.join((key, order)),))]
        blocks += [Tempo(tune_beat(of.tune, drawing.tempo)), Chart(chart_of(of.tune))]
        for other, subject in breaks:
            if other.tune.slug != slug:
                continue
            score = behind_capo(subject.score, capo_of(subject.score, drawing))
            lines = (SEPARATOR.join(set_up(setting_of_score(score), language)), *subject.remarks)
            blocks.append(Heading(SEPARATOR.join((_instrument(other, language), *subject.extra)), lines))
            if drawing.shapes:
                blocks.append(shapes_of(score))
            blocks.append(music_of(score, drawing, paper=True))
            rights += [pair for pair in subject.rights if pair not in rights]
    blocks.append(Credits(credits(rights, language)))
    return Sheet(name, name, page_foot(language), tuple(blocks))


def _instrument(of: SetTune, language: str) -> str:
    return word("instrument", of.setting.instrument.name, language)


def _lines(of: SetTune, language: str) -> tuple[str, ...]:
    order = say("sheet-order", {"order": " ".join(of.tune.order)}, language)
    return (SEPARATOR.join(set_up(of.setting, language)), order)


def _told(of: SetTune, language: str) -> str:
    """The card in words: setting and chords by part."""
    parts = []
    for part in chart_of(of.tune, of.setting.position.tonic - of.tune.key.tonic):
        measures = " | ".join(
            " ".join(name for _, name in measure.chords) or "%" for measure in part.measures
        )
        parts.append(f"{part.name}: {measures}")
    return ". ".join((of.tune.name, *_lines(of, language), *parts))
