"""What to do with a break once it is there: hear it, loop a phrase, work it up, print it, read it, be asked for it."""

import asyncio
import random
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

from bot.api import breaks
from bot.asks import Ask
from bot.book import Command, Option
from bot.commands.breaks import headline
from bot.commands.hearing import BREAK, SILENT, WORK_UP, Rows, heard, slower
from bot.commands.phrases import menus, of_break, tag_first
from bot.commands.pictures import PICTURE, SHEET, pages, with_picture
from bot.commands.terms import CAPO, CODE, INSTRUMENT, KEY, LEVEL, PHRASE, ROUNDS, START, STYLE, TEMPO, TUNE
from bot.replies import SEPARATOR, Answer, Button, Call, File, Menu, Reply
from bot.wording import word
from schemas.breaks import BreakOut, Filters

READ_OUT = "text"
MOST_READ = 1500  # characters that are still read in a message; ours: what is longer goes along as a file
MOST_LISTED = 6  # steps that stand in the message; the rest are in the menu


@dataclass(frozen=True, slots=True)
class Played:
    """What is heard of a break, and how; it goes along on the buttons."""

    code: str
    phrase: int | None = None
    tempo: int | None = None
    capo: int | None = None
    key: str | None = None
    rounds: int | None = None
    start: int | None = None
    without: str | None = None

    @property
    def what(self) -> str:
        return f"/breaks/{self.code}" + ("" if self.phrase is None else f"/loops/{self.phrase}")

    def query(self) -> dict[str, str | int | None]:
        silent = None if self.without is None else SILENT[self.without]
        return {
            "tempo": self.tempo, "capo": self.capo, "key": self.key, "rounds": self.rounds, "from": self.start, "mute": silent,
        }  # fmt: skip

    def shown(self) -> dict[str, str | int | None]:
        """What changes how it is drawn."""
        return {"tempo": self.tempo, "capo": self.capo, "key": self.key}

    def call(self, command: str, **changed: object) -> Call:
        """``command`` with all of it that is not None."""
        other = replace(self, **changed)  # type: ignore[arg-type]
        given = ((item.name, getattr(other, item.name)) for item in fields(other))
        return Call(command, {name: str(value) for name, value in given if value is not None})


async def break_sound(ask: Ask, code: str, **how: object) -> Answer:
    """A break, or the loop of one of its phrases, to play along to."""
    made, played = await _played(ask, code, how)

    def buttons(bpm: int) -> Rows:
        first = [Button(ask.say("Slower"), played.call("break sound", tempo=slower(bpm)))]
        if bpm != made.tempo.bpm:
            first.append(Button(ask.say("Up to speed"), played.call("break sound", tempo=None), "main"))
        first += [
            Button(ask.say(label), played.call("break sound", without=without))
            for without, label in _HEARD
            if without != played.without
        ]
        return (tuple(first), _on(ask, played))

    return await heard(ask, _heading(ask, made, played), played.what, BREAK, played.query(), buttons)


async def break_work_up(ask: Ask, code: str, **how: object) -> Answer:
    """From slow to fast, each new tempo counted in."""
    made, played = await _played(ask, code, how)

    def buttons(bpm: int) -> Rows:
        return (
            (
                Button(ask.say("To a slower tempo"), played.call("break work-up", tempo=slower(bpm))),
                Button(ask.say("Without me"), played.call("break work-up", without="me")),
                Button(ask.say("One tempo"), played.call("break sound", start=None)),
            ),
        )

    return await heard(ask, _heading(ask, made, played), played.what, WORK_UP, played.query(), buttons)


async def break_loop(ask: Ask, code: str, phrase: int | None = None, **how: object) -> Answer:
    """A phrase of a break after the one before it, round and round; without a phrase which ones there are, the tag first."""
    made, played = await _played(ask, code, {"phrase": phrase, **how})
    if phrase is None:
        head = ask.say(
            "Which phrase of {tune} shall go round? The tag is the first to learn.", tune=made.tune_name
        )
        return Reply(head=head, menus=_phrases(ask, made, played, "break loop"), code=made.code, private=True)
    order = [place.phrase for place in made.phrases]
    following = next((number for number in order if number > phrase), order[0])
    reply = Reply(
        head=_heading(ask, made, played),
        notes=(ask.say("It goes round from the phrase before, so that you learn the join too."),),
        code=made.code,
        buttons=(
            (
                Button(ask.say("Sound"), played.call("break sound"), "main"),
                Button(ask.say("Work-up"), played.call("break work-up")),
                Button(ask.say("Next phrase"), played.call("break loop", phrase=following)),
            ),
        ),
    )
    return await with_picture(ask, reply, played.what, played.shown())


async def break_sheet(ask: Ask, code: str, **how: object) -> Answer:
    """A break on paper."""
    made, played = await _played(ask, code, how)
    files = await pages(ask, SHEET, f"/breaks/{made.code}/sheet.pdf", played.shown())
    head = headline(ask, made, played.tempo)
    return Reply(head=head, files=tuple(replace(file, description=head) for file in files), code=made.code)


async def break_picture(ask: Ask, code: str, **how: object) -> Answer:
    """A break as pictures, also where answers come without."""
    made, played = await _played(ask, code, how)
    files, told = await asyncio.gather(
        pages(ask, PICTURE, f"/breaks/{made.code}/tab.png", played.shown()),
        ask.here.text(f"/breaks/{made.code}/alt.txt", played.shown()),
    )
    head = headline(ask, made, played.tempo)
    return Reply(
        head=head, files=tuple(replace(file, description=told.strip()) for file in files), code=made.code
    )


async def break_text(ask: Ask, code: str) -> Answer:
    """A break as text tab."""
    made = await breaks.one_break(ask.here, code)
    tab = await breaks.tab(ask.here, made.code, ask.page.layout, ask.page.width)
    return Reply(head=headline(ask, made), tab=tab, code=made.code)


async def break_read_out(ask: Ask, code: str, phrase: int | None = None) -> Answer:
    """A break, or the loop of one phrase, in sentences to be listened to."""
    made, played = await _played(ask, code, {"phrase": phrase})
    told = await ask.here.file(f"{played.what}/read-out.txt")
    text = told.data.decode().strip()
    head = _heading(ask, made, played)
    if len(text) <= MOST_READ:
        return Reply(head=head, notes=tuple(text.splitlines()), code=made.code)
    return Reply(
        head=head,
        notes=(ask.say("It is long, so it is in the file. Give a phrase too, and you get that alone."),),
        files=(File(READ_OUT, told.name, told.data),),
        code=made.code,
    )


async def break_quiz(
    ask: Ask, code: str, phrase: int | None = None, solved: bool = False, **how: object
) -> Answer:
    """A break with one phrase left out, to be played by heart; without a phrase, any. ``solved`` shows it, to whoever asks alone."""
    if solved and phrase is not None:
        shown = await break_loop(ask, code, phrase, **how)
        return replace(shown, private=True) if isinstance(shown, Reply) else shown
    made, played = await _played(ask, code, how)
    order = [place.phrase for place in made.phrases]
    hidden = random.choice(order) if phrase is None else phrase
    others = [number for number in order if number != hidden] or order

    def quiz(at: int, **more: str) -> Call:
        call = played.call("break quiz", phrase=at)
        return replace(call, given={**call.given, **more})

    reply = Reply(
        head=ask.say(
            "Hidden: phrase {place}. Can you play it?", place=_place(ask, made, hidden)
        ),
        code=made.code,
        buttons=(
            (
                Button(ask.say("Show it"), quiz(hidden, solved="yes"), "main"),
                Button(ask.say("Hide another"), quiz(random.choice(others))),
            ),
        ),
    )  # fmt: skip
    return await with_picture(ask, reply, f"/breaks/{made.code}", {"hide": hidden, **played.shown()})


async def break_learn(
    ask: Ask, tune: str, level: int | None = None, style: str | None = None, instrument: str | None = None
) -> Answer:
    """From the plain break on, one lick at a time, the tag first, to a break as asked."""
    wish = Filters(max_level=level, styles=[style] if style else [], instrument=instrument)
    steps = (await breaks.steps(ask.here, tune, wish)).items
    told = [_step(ask, steps, at) for at in range(len(steps))]
    notes = [f"{at + 1} {said}" for at, said in enumerate(told[:MOST_LISTED])]
    if len(told) > MOST_LISTED:
        notes.append(ask.say("And {count} more in the list.", count=len(told) - MOST_LISTED))
    choices = [
        (f"{at + 1} {said}", {"code": step.code}, "")
        for at, (step, said) in enumerate(zip(steps, told, strict=True))
    ]
    return Reply(
        head=ask.say(
            "{tune} in {count} steps, one lick at a time: go on when a step is easy.",
            tune=steps[0].tune_name, count=len(steps),
        ),
        notes=tuple(notes),
        buttons=((Button(ask.say("Begin"), Call("break show", {"code": steps[0].code}), "main"),),),
        menus=menus(ask.say("Open a step"), choices, "break show"),
    )  # fmt: skip


def _step(ask: Ask, steps: Sequence[BreakOut], at: int) -> str:
    """What is new in a step."""
    if at == 0:
        return ask.say("The plain break, level {level}", level=steps[0].level)
    before = {place.phrase: place.lick for place in steps[at - 1].phrases}
    for place in steps[at].phrases:
        old = before.get(place.phrase)
        if place.lick is not None and (old is None or old.number != place.lick.number):
            return ask.say(
                "Phrase {phrase}: {name}, level {level}",
                phrase=place.phrase, name=place.lick.name, level=place.lick.level,
            )  # fmt: skip
    return ask.say("As before")


async def break_more(ask: Ask, code: str, **how: object) -> Answer:
    """What else there is to do with a break, for whoever asks alone."""
    made, played = await _played(ask, code, how)
    this = {"code": made.code}
    return Reply(
        head=ask.say("More of break {code}, {tune}", code=made.code, tune=made.tune_name),
        code=made.code,
        buttons=(
            (
                Button(
                    ask.say("Slower"),
                    played.call("break sound", tempo=slower(played.tempo or made.tempo.bpm)),
                ),
                Button(ask.say("Work-up"), played.call("break work-up")),
                Button(ask.say("Quiz me"), played.call("break quiz")),
            ),
            (
                Button(ask.say("Sheet"), played.call("break sheet")),
                Button(ask.say("Text"), Call("break text", this)),
                Button(ask.say("Read-out"), Call("break read-out", this)),
                Button(ask.say("What is in it"), Call("break licks", this)),
            ),
            (
                Button(ask.say("Learn this tune"), Call("break learn", {"tune": made.tune})),
                Button(ask.say("The chart"), Call("tune chart", {"tune": made.tune})),
            ),
        ),
        private=True,
    )


async def _played(ask: Ask, code: str, how: dict[str, object]) -> tuple[BreakOut, Played]:
    """The break, and what is heard of it under its code as it is written."""
    played = Played(code, **how)  # type: ignore[arg-type]
    made = await breaks.one_break(ask.here, code, played.key, played.capo)
    return made, replace(played, code=made.code)


def _heading(ask: Ask, made: BreakOut, played: Played) -> str:
    if played.phrase is None:
        return SEPARATOR.join([made.tune_name, ask.say("break {code}", code=made.code)])
    return SEPARATOR.join(
        [made.tune_name, ask.say("loop of phrase {place}", place=_place(ask, made, played.phrase))]
    )


def _place(ask: Ask, made: BreakOut, phrase: int) -> str:
    """The phrase as it is called; of a lick over several phrases, where it begins."""
    begun = [name for number, name in of_break(ask.say, made) if number <= phrase]
    return begun[-1] if begun else str(phrase)


def _phrases(ask: Ask, made: BreakOut, played: Played, command: str) -> tuple[Menu, ...]:
    names, licks = dict(of_break(ask.say, made)), {place.phrase: place.lick for place in made.phrases}
    choices = []
    for number in tag_first(made):
        lick = licks[number]
        choices.append(
            (
                names[number],
                dict(played.call(command, phrase=number).given),
                "" if lick is None else lick.name,
            )
        )
    return menus(ask.say("Which phrase"), choices, command)


def _on(ask: Ask, played: Played) -> tuple[Button, ...]:
    """What comes after listening."""
    if played.phrase is None:
        return (
            Button(ask.say("Work-up"), played.call("break work-up", rounds=None)),
            Button(ask.say("Loop"), played.call("break loop", rounds=None, without=None)),
        )
    return (Button(ask.say("Work-up"), played.call("break work-up", rounds=None)),)


_HEARD = ((None, word("All of us")), ("me", word("Without me")), ("band", word("Only me")))
_WITHOUT = Option(
    "without", "choice", word("Leave out me (I play), or the band."), "w", choices=tuple(SILENT)
)
_SOLVED = Option("solved", "yes", word("Show what is hidden."), "z", hidden=True)
_AT = replace(PHRASE, about=word("One phrase of it, as a loop."))

COMMANDS = (
    Command(
        "break sound",
        word("A break to play along to, slower or without you if you like."),
        break_sound,
        (CODE, TEMPO, KEY, CAPO, ROUNDS, _WITHOUT, _AT),
    ),
    Command(
        "break work-up",
        word("A break, or a phrase of it, from slow to fast."),
        break_work_up,
        (CODE, _AT, START, replace(TEMPO, about=word("The tempo that a work-up leads to.")), KEY, CAPO, _WITHOUT),
    ),
    Command(
        "break loop",
        word("One phrase of a break, round and round, with the one before it."),
        break_loop,
        (CODE, PHRASE, TEMPO, KEY, CAPO),
    ),
    Command("break sheet", word("A break as a sheet to print."), break_sheet, (CODE, TEMPO, KEY, CAPO)),
    Command("break picture", word("A break as a picture."), break_picture, (CODE, TEMPO, KEY, CAPO)),
    Command("break text", word("A break as text tab."), break_text, (CODE,)),
    Command("break read-out", word("A break in sentences, to be listened to."), break_read_out, (CODE, _AT), private=True),
    Command(
        "break quiz",
        word("A break with one phrase hidden, to be played by heart."),
        break_quiz,
        (CODE, PHRASE, TEMPO, KEY, CAPO, _SOLVED),
        private=True,
    ),
    Command(
        "break learn",
        word("Learn a tune's break from the plain one on, one lick at a time."),
        break_learn,
        (TUNE, LEVEL, STYLE, INSTRUMENT),
    ),
    Command(
        "break more",
        word("What else there is to do with a break."),
        break_more,
        (CODE, TEMPO, KEY, CAPO),
        private=True,
        listed=False,
    ),
)  # fmt: skip
