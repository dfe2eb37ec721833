"""Tunes: which there are, their form and chart, how they start and end, what is played behind a singer."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace

from bot.api import tunes
from bot.api.client import Query
from bot.asks import Ask
from bot.book import Command, Option
from bot.commands.hearing import BREAK, Rows, heard, slower
from bot.commands.phrases import menus, named, short
from bot.commands.pictures import PICTURE, pages, with_picture
from bot.commands.terms import INSTRUMENT, PATTERNS, SINGER, TEMPO, TUNE
from bot.replies import SEPARATOR, Answer, Button, Call, Reply
from bot.wording import word
from schemas.tunes import SettingIn, TuneOut

MOST_LISTED = 10
IN_ROW = 4  # measures of a chart in a row: common practice
MOST_DESCRIBED = 1000  # characters of a picture's description that chats take, about
KICK_OFF, ENDING, BEHIND = "kick-off", "ending", "behind"
_MEASURE = re.compile(r"[^|]*\||[^|]+$")
_PATHS = {KICK_OFF: "kick-off", ENDING: "ending", BEHIND: "backup"}


async def tune_list(ask: Ask, words: str | None = None) -> Answer:
    """The group's tunes by name, or those whose names have some words in them."""
    found = sorted((await tunes.tunes(ask.here, words)).items, key=lambda tune: tune.name)
    if not found:
        if words is None:
            return Reply(head=ask.say("The group has no tunes yet. An organiser adds them."), failed=True)
        return Reply(
            head=ask.say(
                "No tune is called anything like “{words}”. Ask without words for all.", words=words
            ),
            failed=True,
        )
    notes = [f"{tune.name}, {_key(ask, tune)}, {' '.join(tune.order)}" for tune in found[:MOST_LISTED]]
    more = len(found) - MOST_LISTED
    if more > 0:
        notes.append(ask.say("And {count} more: open one below, or type part of its name.", count=more))
    choices = [(tune.name, {"tune": tune.slug}, _key(ask, tune)) for tune in found]
    return Reply(
        head=ask.say("{count} tunes", count=len(found)) if len(found) > 1 else ask.say("One tune"),
        notes=tuple(notes),
        menus=menus(ask.say("Open a tune"), choices, "tune show"),
    )


async def tune_show(ask: Ask, tune: str) -> Answer:
    """Form, chords, tempo, how each instrument plays it, and its phrases to find licks for."""
    found = await tunes.one_tune(ask.here, tune)
    tempo, unit = found.tempo, ask.say(found.tempo.unit)
    notes = [
        ask.say("Form {order}, {count} phrases.", order=" ".join(found.order), count=len(found.phrases)),
        ask.say(
            "Tempo: {unit} = {start}, from {low} to {high}.",
            unit=unit, start=tempo.start, low=tempo.low, high=tempo.high,
        ),
        *(_setting(ask, found, setting) for setting in found.settings),
    ]  # fmt: skip
    seen: set[tuple[str, int]] = set()
    choices = []
    for phrase in found.phrases:
        if (phrase.part, phrase.index) not in seen:
            seen.add((phrase.part, phrase.index))
            label = named(ask.say, phrase.number, phrase.part, phrase.chords)
            choices.append((label, {"tune": found.slug, "phrase": phrase.number}, ask.say(phrase.role)))
    this = {"tune": found.slug}
    return Reply(
        head=SEPARATOR.join([found.name, _key(ask, found), found.meter]),
        tab=folded(found.chart, ask.page.width),
        notes=tuple(notes),
        buttons=(
            (
                Button(ask.say("A break"), Call("break random", this), "main"),
                Button(ask.say("Chart"), Call("tune chart", this)),
                Button(ask.say("Kick-off"), Call("tune kick-off", this)),
                Button(ask.say("Ending"), Call("tune ending", this)),
                Button(ask.say("Behind a singer"), Call("tune behind", this)),
            ),
            (Button(ask.say("Phrases"), Call("tune phrases", this)),),
        ),
        menus=menus(ask.say("Licks for a phrase"), choices, "lick find"),
    )


async def tune_chart(ask: Ask, tune: str, instrument: str | None = None) -> Answer:
    """The chords in large letters, at once."""
    found = await tunes.one_tune(ask.here, tune)
    reply = Reply(
        head=SEPARATOR.join([found.name, _key(ask, found), " ".join(found.order), _tempo(ask, found)]),
        buttons=(
            (
                Button(ask.say("Kick-off"), Call("tune kick-off", _with({"tune": found.slug}, instrument))),
                Button(ask.say("Ending"), Call("tune ending", _with({"tune": found.slug}, instrument))),
            ),
        ),
    )
    if not ask.pictures:
        return replace(reply, tab=folded(found.chart, ask.page.width))
    query = {"instrument": instrument, "large": True}
    files = await pages(ask, PICTURE, f"/tunes/{found.slug}/card.png", query)
    described = short(
        ask.say(
            "Chords of {tune}, as they sound: {chart}", tune=found.name, chart=" ".join(found.chart.split())
        ),
        MOST_DESCRIBED,
    )
    return replace(reply, files=tuple(replace(file, description=described) for file in files))


async def kick_off(ask: Ask, tune: str, instrument: str | None = None) -> Answer:
    return await _shown(ask, Around(tune, KICK_OFF, instrument))


async def ending(ask: Ask, tune: str, instrument: str | None = None) -> Answer:
    return await _shown(ask, Around(tune, ENDING, instrument))


async def behind(ask: Ask, tune: str, instrument: str | None = None, pattern: str | None = None) -> Answer:
    """What to play behind a singer, or behind somebody else's break."""
    return await _shown(ask, Around(tune, BEHIND, instrument, pattern))


async def tune_sound(
    ask: Ask,
    tune: str,
    played: str,
    instrument: str | None = None,
    pattern: str | None = None,
    tempo: int | None = None,
) -> Answer:
    """How a kick-off, an ending or what is played behind others sounds."""
    found, around = await tunes.one_tune(ask.here, tune), Around(tune, played, instrument, pattern)

    def buttons(bpm: int) -> Rows:
        return ((Button(ask.say("Slower"), around.call("tune sound", tempo=slower(bpm))),),)

    heading = SEPARATOR.join([found.name, around.title(ask)])
    return await heard(ask, heading, around.what(found), BREAK, {**around.query(), "tempo": tempo}, buttons)


@dataclass(frozen=True, slots=True)
class Around:
    """What is played before, after or behind a tune, on an instrument, the group's own without one; behind it in the pattern for
    singers without another."""

    tune: str
    played: str
    instrument: str | None = None
    pattern: str | None = None

    def what(self, found: TuneOut) -> str:
        return f"/tunes/{found.slug}/{_PATHS[self.played]}"

    def query(self) -> Query:
        pattern = (self.pattern or SINGER) if self.played == BEHIND else None
        return {"instrument": self.instrument, "pattern": pattern}

    def call(self, command: str, **more: object) -> Call:
        given = {"tune": self.tune, "played": self.played, "pattern": self.pattern, **more}
        told = {name: str(value) for name, value in given.items() if value is not None}
        return Call(command, _with(told, self.instrument))

    def title(self, ask: Ask) -> str:
        if self.played == BEHIND:
            return ask.say(self.pattern or SINGER)
        return ask.say("kick-off") if self.played == KICK_OFF else ask.say("ending")


async def _shown(ask: Ask, around: Around) -> Reply:
    found = await tunes.one_tune(ask.here, around.tune)
    around = replace(around, tune=found.slug)
    reply = Reply(
        head=SEPARATOR.join([found.name, _key(ask, found), around.title(ask), _tempo(ask, found)]),
        buttons=((Button(ask.say("Sound"), around.call("tune sound"), "main"),),),
    )
    return await with_picture(ask, reply, around.what(found), around.query())


def folded(chart: str, width: int) -> str:
    """A chart whose lines are broken every four measures, or sooner, where they are longer than ``width``."""
    lines = []
    for line in chart.strip().splitlines():
        if len(line) <= width:
            lines.append(line)
            continue
        first, *rest = _MEASURE.findall(line)
        begun, in_row, indent = first, 0, " " * first.find("|")
        for measure in rest:
            if in_row and (in_row == IN_ROW or len(begun) + len(measure.rstrip()) > width):
                lines.append(begun.rstrip())
                begun, in_row = f"{indent}|", 0
            begun, in_row = begun + measure, in_row + 1
        lines.append(begun.rstrip())
    return "\n".join(lines)


def _with(given: Mapping[str, str], instrument: str | None) -> Mapping[str, str]:
    return given if instrument is None else {**given, "instrument": instrument}


def _key(ask: Ask, tune: TuneOut) -> str:
    return ask.say("key of {key}", key=tune.key)


def _tempo(ask: Ask, tune: TuneOut) -> str:
    return f"{ask.say(tune.tempo.unit)} = {tune.tempo.start}"


def _setting(ask: Ask, tune: TuneOut, setting: SettingIn) -> str:
    """``Guitar: G position, capo 2.``"""
    instrument, position = ask.say(setting.instrument), setting.position or tune.key
    if setting.capo:
        return ask.say(
            "{instrument}: {position} position, capo {fret}.",
            instrument=instrument,
            position=position,
            fret=setting.capo,
        )
    return ask.say("{instrument}: {position} position, no capo.", instrument=instrument, position=position)


_WORDS = Option("words", "text", word("Words of its name, or parts of them."), "q", most=100)
_PATTERN = Option("pattern", "choice", word("Another way to play behind others."), "a", choices=PATTERNS)

COMMANDS = (
    Command("tune list", word("The group's tunes."), tune_list, (_WORDS,)),
    Command("tune show", word("A tune: form, chords, tempo, instruments, phrases."), tune_show, (TUNE,)),
    Command(
        "tune chart",
        word("A tune's chords in large letters, to play from now."),
        tune_chart,
        (TUNE, INSTRUMENT),
    ),
    Command("tune kick-off", word("How to start a tune."), kick_off, (TUNE, INSTRUMENT)),
    Command("tune ending", word("How to end a tune."), ending, (TUNE, INSTRUMENT)),
    Command(
        "tune behind",
        word("What to play behind a singer, or behind somebody's break."),
        behind,
        (TUNE, INSTRUMENT, _PATTERN),
    ),
    Command(
        "tune sound",
        word("How a kick-off, an ending or backup sounds."),
        tune_sound,
        (
            TUNE,
            Option("played", "choice", word("Which of them."), "d", required=True, choices=tuple(_PATHS)),
            INSTRUMENT,
            _PATTERN,
            TEMPO,
        ),
        listed=False,
    ),
)
