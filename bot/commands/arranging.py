"""A group's own tune: typed in on a phone, arranged as a plain break, set up another way."""

import re
import zlib
from collections.abc import Sequence
from dataclasses import dataclass, replace

import msgspec

from bot.api import arrangements, tunes
from bot.api.client import Refused, Unreachable
from bot.arguments import slug_of
from bot.asks import Ask
from bot.book import Command, Option
from bot.commands.breaks import Wish, set_up, shown_break
from bot.commands.cutting import cut_anew
from bot.commands.marking import fields_of, marked, to_mend, unmarked
from bot.commands.phrases import menus, place_name
from bot.commands.terms import CAPO, INSTRUMENT, TEMPO, TUNE
from bot.replies import SEPARATOR, Answer, Blank, Button, Call, Form, Reply
from bot.wording import word
from schemas.arrangements import ArrangeIn, ArrangementOut
from schemas.tunes import (
    RightsIn,
    TempoIn,
    TuneBody,
    TuneIn,
    TuneOut,
)

MOST_NAME, MOST_KEY, MOST_CHART, MOST_MELODY = 120, 24, 2000, 4000
MOST_POSITION = 12
METERS = ("2/2", "4/4", "2/4", "3/4", "6/8", "9/8", "12/8")
PLAIN_LEVELS = (1, 2, 3)
PLAIN_STYLES = ("roll", "melodic", "flatpick", "fingers", "plain")
MOST_SAID = 6  # reasons of an arrangement that are told at once; ours
# Where a tune's tempo starts, lowest and highest, and what is counted, by meter: common practice of slow jams, no source.
TEMPI = {
    "2/2": TempoIn(low=60, high=130, start=84, unit="half"),
    "4/4": TempoIn(low=60, high=130, start=84, unit="half"),
    "2/4": TempoIn(low=60, high=130, start=84, unit="quarter"),
    "3/4": TempoIn(low=90, high=150, start=108, unit="quarter"),
    "6/8": TempoIn(low=60, high=130, start=84, unit="dotted quarter"),
    "9/8": TempoIn(low=60, high=130, start=84, unit="dotted quarter"),
    "12/8": TempoIn(low=60, high=130, start=84, unit="dotted quarter"),
}
_BEGINS = re.compile(r"^\s*[A-Za-z]\w{0,11}(?:\s*[:：](?!\|)|[:：](?=\|.*\S))")
_ORDER = re.compile(r"^\s*(order|form|play)\s*[:=]", re.MULTILINE | re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Typed:
    """What stands in the form's blanks."""

    name: str = ""
    key: str = ""
    chart: str = ""
    melody: str = ""

    def fields(self) -> dict[str, str]:
        return {"name": self.name, "key": self.key, "chart": self.chart}


def _shown(ask: Ask) -> Typed:
    """What was typed before, out of the message whose button was pressed."""
    fields = fields_of(ask.visitor.shown)
    if "name" not in fields:
        return Typed()
    melody = unmarked(ask.visitor.shown).strip("\n")
    return Typed(fields.get("name", ""), fields.get("key", ""), fields.get("chart", ""), melody)


async def tune_add(ask: Ask, meter: str = "2/2", tempo: int | None = None) -> Answer:
    """The form for a tune of the group's own."""
    given = {"meter": meter, "tempo": None if tempo is None else str(tempo)}
    call = Call("tune new", {name: value for name, value in given.items() if value is not None})
    return Form(ask.say("Your tune"), call, _blanks(ask, _shown(ask)))


def _blanks(ask: Ask, typed: Typed) -> tuple[Blank, ...]:
    return (
        Blank("name", ask.say("The name of the tune"), value=typed.name, most=MOST_NAME),
        Blank("key", ask.say("The key it sounds in"), value=typed.key, hint=ask.say("G, Am, or A dorian"), most=MOST_KEY),
        Blank(
            "chart", ask.say("Chords by measure, part by part"), long=True, value=typed.chart,
            hint=ask.say("A: | G | C | G | D |  (a line a part; then: order: A A B B)"), most=MOST_CHART,
        ),
        Blank(
            "melody", ask.say("Its melody, in note letters"), long=True, required=False, value=typed.melody,
            hint=ask.say("d2; g2 a b c2 b a, c2 e2 c4  (g an eighth, g2 two, a comma ends a measure)"),
            most=MOST_MELODY,
        ),
    )  # fmt: skip


async def tune_new(
    ask: Ask, name: str, key: str, chart: str, melody: str = "", meter: str = "2/2", tempo: int | None = None
) -> Answer:
    """The tune is kept, and a plain break made of its melody. What cannot be used comes back with marks."""
    typed = Typed(name, key, chart, _by_part(melody))
    try:
        made = await tunes.add(ask.here.again("tune"), _tune(typed, meter, tempo))
    except (Refused, Unreachable, TimeoutError) as error:
        again = Call("tune add", {"meter": meter, **({} if tempo is None else {"tempo": str(tempo)})})
        return to_mend(ask, error, typed.melody, typed.fields(), again)
    return await with_plain_break(ask, made, *_written_out(ask, typed, made))


def _tune(typed: Typed, meter: str, tempo: int | None) -> TuneIn:
    beats = TEMPI[meter]
    if tempo is not None:
        beats = TempoIn(low=min(beats.low, tempo), high=max(beats.high, tempo), start=tempo, unit=beats.unit)
    return TuneIn(
        slug=tune_slug(typed.name),
        name=typed.name,
        key=typed.key,
        meter=meter,
        tempo=beats,
        chart=typed.chart,
        melody=typed.melody or None,
        rights=RightsIn(origin="traditional"),
    )


def tune_slug(name: str) -> str:
    """A short name begins with a letter."""
    found = slug_of(name)
    if not found.strip("-"):  # a name without a letter of ours
        found = f"{zlib.crc32(name.encode()):08x}"
    return found if found[0].isalpha() else f"tune-{found}"[:40].rstrip("-")


def _by_part(melody: str) -> str:
    """A melody without part names is that of part A."""
    text = melody.strip()
    return text if not text or _BEGINS.match(text) else f"A: {text}"


def _written_out(ask: Ask, typed: Typed, made: TuneOut) -> list[str]:
    """A melody is kept as it was typed, unless the key had a mode."""
    if not made.melody or made.melody == typed.melody:
        return []
    return [
        ask.say("Its key is kept as {key}; what the mode alters is written out in the melody.", key=made.key)
    ]


async def with_plain_break(ask: Ask, made: TuneOut, *notes: str, retire: bool = False) -> Reply:
    said = ask.say("{tune} is in.", tune=made.name)
    phrases = Button(ask.say("Phrases"), Call("tune phrases", {"tune": made.slug}))
    chart = Button(ask.say("Chart"), Call("tune chart", {"tune": made.slug}))
    mend = Button(ask.say("Mend"), Call("tune mend", {"tune": made.slug}))
    if not made.melody:
        return Reply(
            head=said,
            notes=(
                *notes,
                ask.say("With its melody I can make a plain break of it: press Mend and type it in."),
            ),
            buttons=((mend, chart, phrases),),
        )
    arranged = await arrangements.arrange(
        ask.here.again("arrange"), made.slug, ArrangeIn(keep=True, retire=retire)
    )
    return await _shown_arrangement(ask, arranged, said, *notes)


async def tune_arrange(
    ask: Ask,
    tune: str,
    instrument: str | None = None,
    plain: int = 2,
    style: str | None = None,
    position: str | None = None,
    capo: int | None = None,
) -> Answer:
    """A plain break made anew; organisers keep it, others see what it would be."""
    wish = ArrangeIn(
        instrument=instrument, level=plain, style=style, position=position, capo=capo, keep=ask.organises
    )
    made = await arrangements.arrange(ask.here.again("arrange"), tune, wish)
    if made.kept:
        return await _shown_arrangement(ask, made)
    return _proposal(ask, made, (await tunes.one_tune(ask.here, tune)).name)


async def _shown_arrangement(ask: Ask, made: ArrangementOut, *first: str) -> Reply:
    """Its plain break as any break is shown, with what is said of the arrangement, and other ways to have it."""
    shown = await arrangements.plain_break(ask.here, made.tune, made.setting.instrument)
    reply = await shown_break(ask, shown, Wish(instrument=made.setting.instrument))
    this = {"tune": made.tune, "instrument": made.setting.instrument}
    others = [
        Button(label, Call("tune arrange", {**this, "plain": str(level)}))
        for level, label in zip(
            PLAIN_LEVELS,
            (ask.say("Sparse"), ask.say("Filled"), ask.say("With ornaments")),
            strict=True,
        )
        if level != made.level
    ]
    others.append(Button(ask.say("Other positions"), Call("tune positions", this)))
    others.append(Button(ask.say("Mend the tune"), Call("tune mend", {"tune": made.tune})))
    others.append(Button(ask.say("Phrases"), Call("tune phrases", {"tune": made.tune})))
    notes = (
        *first,
        ask.say("The plain break, made from the melody. It is in the pool, phrase by phrase."),
        *told(ask, made),
    )
    return replace(reply, notes=(*notes, *reply.notes), buttons=(*reply.buttons, tuple(others)))


def told(ask: Ask, made: ArrangementOut) -> list[str]:
    """What is said of an arrangement: the whole first, then what is left out where."""
    said = [one.text for one in made.said]
    for phrase in made.phrases:
        said += [f"{place_name(phrase.part, phrase.phrase)}: {one.text}" for one in phrase.reasons]
    more = len(said) - MOST_SAID
    return said if more <= 0 else [*said[:MOST_SAID], ask.say("And {count} more of that kind.", count=more)]


def _proposal(ask: Ask, made: ArrangementOut, name: str) -> Reply:
    parts = [f"{place_name(one.part, one.phrase)} {one.chords}\n{one.tab.strip()}" for one in made.phrases]
    return Reply(
        head=SEPARATOR.join(
            [ask.say("A plain break of {tune}, as it would be", tune=name), *set_up(ask, made.setting)]
        ),
        tab="\n\n".join(parts),
        notes=(*told(ask, made), ask.say("An organiser can keep it.")),
        private=True,
    )


async def tune_positions(ask: Ask, tune: str, instrument: str | None = None) -> Answer:
    """Where a tune lies best on an instrument, and why."""
    found = (await arrangements.positions(ask.here, tune, instrument)).items
    notes, choices = [], []
    for one in found:
        name = SEPARATOR.join(set_up(ask, one.setting)[1:])
        notes.append(f"{name}: {' '.join(reason.text for reason in one.reasons[:2])}")
        given = {
            "tune": tune, "instrument": one.setting.instrument, "position": one.setting.position, "capo": one.setting.capo,
        }  # fmt: skip
        choices.append((name, given, ""))
    return Reply(
        head=ask.say(
            "Positions for {tune}, the easiest first", tune=(await tunes.one_tune(ask.here, tune)).name
        ),
        notes=tuple(notes),
        menus=menus(ask.say("A plain break in"), choices, "tune arrange"),
        private=True,
    )


async def tune_plain(ask: Ask, tune: str, instrument: str | None = None) -> Answer:
    """The plain break of a tune."""
    made = await arrangements.plain_break(ask.here, tune, instrument)
    return await shown_break(ask, made, Wish(instrument=made.setting.instrument))


async def tune_mend(ask: Ask, tune: str) -> Answer:
    """A tune as text, to be typed anew."""
    found = await tunes.one_tune(ask.here, tune)
    chart = found.chart.strip()
    if not _states_order(chart, found.order):
        chart = f"{chart}\norder: {' '.join(found.order)}"
    call = Call("tune rewrite", {"tune": found.slug, "revision": str(found.revision)})
    return Reply(
        head=ask.say("{tune}, as it is kept. Change what you like.", tune=found.name),
        tab=marked((found.melody or "").strip(), (), {"name": found.name, "key": found.key, "chart": chart}),
        buttons=((Button(ask.say("Mend it"), call, "main"),),) if ask.organises else (),
        private=True,
    )


def _states_order(chart: str, order: Sequence[str]) -> bool:
    """Whether a line of the chart says it, or the last one names parts alone."""
    last = chart.rpartition("\n")[2]
    said = "|" not in last and _letters(last) == _letters("".join(order))
    return said or bool(_ORDER.search(chart))


def _letters(text: str) -> str:
    return "".join(re.findall(r"\w+", text)).casefold()


async def tune_rewrite(ask: Ask, tune: str, revision: int) -> Answer:
    call = Call("tune mended", {"tune": tune, "revision": str(revision)})
    return Form(ask.say("Mend the tune"), call, _blanks(ask, _shown(ask)))


async def tune_mended(
    ask: Ask, tune: str, revision: int, name: str, key: str, chart: str, melody: str = ""
) -> Answer:
    """A new revision, unless somebody else was quicker; its plain break is made anew where there is a melody."""
    typed = Typed(name, key, chart, _by_part(melody))
    try:
        was = await tunes.one_tune(ask.here, tune)
        made = await tunes.change(ask.here, tune, revision, _changed(was, typed))
    except (Refused, Unreachable, TimeoutError) as error:
        again = Call("tune rewrite", {"tune": tune, "revision": str(revision)})
        return to_mend(ask, error, typed.melody, typed.fields(), again)
    notes = [*_written_out(ask, typed, made), *cut_anew(ask, was, made)]
    return await with_plain_break(ask, made, *notes, retire=True)


def _changed(was: TuneOut, typed: Typed) -> TuneBody:
    """Everything else stays, but for settings in a key that is no more."""
    return msgspec.structs.replace(
        tunes.as_sent(was),
        name=typed.name,
        key=typed.key,
        chart=typed.chart,
        order=None,  # it is in the chart
        melody=typed.melody or None,
        settings=was.settings if typed.key.strip() == was.key else [],
    )


NAME = Option("name", "text", word("What it is called."), "n", required=True, most=MOST_NAME)
_KEY = Option(
    "key", "text", word("The key it sounds in: G, Am, A dorian."), "k", required=True, most=MOST_KEY
)
_CHART = Option(
    "chart", "text", word("Its chords by measure, part by part."), "c", required=True, most=MOST_CHART
)
_MELODY = Option("melody", "text", word("Its melody, in note letters."), "m", most=MOST_MELODY)
_METER = Option("meter", "choice", word("Its meter; cut time unless you say another."), "e", choices=METERS)
_TEMPO = replace(TEMPO, about=word("Where its tempo starts, in beats a minute."))
_REVISION = Option("revision", "whole", word("The revision that was shown."), "v", required=True, least=1)
_PLAIN = Option(
    "plain",
    "whole",
    word("1 sparse, 2 filled, 3 with ornaments."),
    "p",
    least=PLAIN_LEVELS[0],
    most=PLAIN_LEVELS[-1],
)
_STYLE = Option(
    "style", "choice", word("Another style, such as melodic on the banjo."), "y", choices=PLAIN_STYLES
)
_POSITION = Option("position", "text", word("The key your hand thinks in: G, C, D."), "o", most=MOST_POSITION)

COMMANDS = (
    Command(
        "tune add", word("Type in a tune of your own: chords and melody."), tune_add, (_METER, _TEMPO), form=True, organisers=True
    ),
    Command(
        "tune new",
        word("A tune as it was typed."),
        tune_new,
        (NAME, _KEY, _CHART, _MELODY, _METER, _TEMPO),
        listed=False,
        organisers=True,
    ),
    Command("tune plain", word("The plain break of a tune."), tune_plain, (TUNE, INSTRUMENT)),
    Command(
        "tune arrange",
        word("A plain break made from a tune's melody."),
        tune_arrange,
        (TUNE, INSTRUMENT, _PLAIN, _STYLE, _POSITION, CAPO),
    ),
    Command(
        "tune positions",
        word("Positions and capos for a tune, the easiest first."),
        tune_positions,
        (TUNE, INSTRUMENT),
        private=True,
    ),
    Command("tune mend", word("Change a tune: chords, melody, name."), tune_mend, (TUNE,), private=True, organisers=True),
    Command(
        "tune rewrite", word("A tune to be typed anew."), tune_rewrite, (TUNE, _REVISION), form=True, listed=False, organisers=True
    ),
    Command(
        "tune mended",
        word("A tune as it was typed anew."),
        tune_mended,
        (TUNE, _REVISION, NAME, _KEY, _CHART, _MELODY),
        listed=False,
        organisers=True,
    ),
)  # fmt: skip
