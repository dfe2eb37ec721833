"""Breaks: a fresh one on request, the best there are, one lick changed for another."""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace

from bot.api import breaks
from bot.asks import Ask
from bot.book import Command, Option
from bot.commands.pictures import with_picture
from bot.commands.terms import (
    BEST,
    CAPO,
    CODE,
    FAVOURS,
    INSTRUMENT,
    KEY,
    LEVEL,
    LICK,
    PHRASE,
    STYLE,
    TEMPO,
    TUNE,
)
from bot.replies import SEPARATOR, Answer, Button, Call, Choice, Menu, Reply
from bot.trouble import Unusable
from bot.wording import word
from schemas.breaks import BestIn, BreakOut, BreakPhraseOut, Filters, RandomIn, SettingOut, SwapOut

TUNINGS_BY_HEART = {
    "open-g": word("open G"),
    "c": word("C"),
    "double-c": word("double C"),
    "open-d": word("open D"),
    "drop-d": word("drop D"),
}
HARDEST = 5
CLOSE = 0.95  # of the melody: a break that recalls so much is close to the tune
MOST_CHOICES = 25  # what chats show in one list


@dataclass(frozen=True, slots=True)
class Wish:
    """What was asked of a break; it goes along on its buttons."""

    level: int | None = None
    style: str | None = None
    instrument: str | None = None
    tempo: int | None = None
    capo: int | None = None
    key: str | None = None
    melody: int | None = None
    favour: str | None = None

    def filters(self) -> dict[str, object]:
        return {
            "max_level": self.level,
            "styles": [self.style] if self.style else [],
            "instrument": self.instrument,
            "bpm": self.tempo,
            "melody": None if self.melody is None else self.melody / 100,
        }

    def given(self) -> dict[str, str]:
        told = ((item.name, getattr(self, item.name)) for item in fields(self))
        return {name: str(value) for name, value in told if value is not None}

    def shown(self) -> dict[str, int | str | None]:
        """What changes how it is drawn and played."""
        return {"tempo": self.tempo, "capo": self.capo, "key": self.key}


async def random_break(ask: Ask, tune: str, seed: int | None = None, **wished: object) -> Answer:
    """A fresh break of a tune."""
    wish = Wish(**wished)  # type: ignore[arg-type]
    asked = RandomIn(seed=seed, favour=wish.favour, **wish.filters())  # type: ignore[arg-type]
    made = await breaks.random_break(ask.here, tune, asked)
    return await shown_break(ask, made, wish, await filtered_total(ask, tune, asked))


async def best_break(ask: Ask, tune: str, by: str = "smooth", **wished: object) -> Answer:
    """The smoothest or easiest break, or the one closest to the tune."""
    wish = Wish(**wished)  # type: ignore[arg-type]
    found = await breaks.best_breaks(
        ask.here,
        tune,
        BestIn(by=by, how_many=1, **wish.filters()),  # type: ignore[arg-type]
    )
    return await shown_break(ask, found.items[0], wish)


async def numbered_break(ask: Ask, tune: str, number: str, instrument: str | None = None) -> Reply:
    """Number k of all breaks that the pool makes now."""
    now = await breaks.count(ask.here, tune, Filters(instrument=instrument))
    digits = number.replace(",", "").strip()
    if not (digits.isascii() and digits.isdigit()) or int(digits) == 0:
        raise Unusable(
            ask.say(
                "“{text}” is no number of a break: give one from 1 to {most}.",
                text=number,
                most=grouped(ask, now.total or "1"),
            )
        )
    made = await breaks.numbered(ask.here, tune, digits, now.snapshot, instrument)
    return await shown_break(ask, made, Wish(instrument=instrument))


async def show_break(
    ask: Ask, code: str, tempo: int | None = None, key: str | None = None, capo: int | None = None
) -> Answer:
    made = await breaks.one_break(ask.here, code)
    return await shown_break(ask, made, Wish(tempo=tempo, key=key, capo=capo))


async def swapped_break(
    ask: Ask, code: str, phrase: int | None = None, lick: int | None = None, **shown: object
) -> Reply:
    """A break with the lick at one phrase changed; for the one that suits best unless one is named. Without a phrase its rest,
    where a lick was taken down, or else the last one, its tag."""
    before = await breaks.one_break(ask.here, code)
    at = _to_swap(before) if phrase is None else phrase
    chosen = lick
    if chosen is None:
        alternatives = (await breaks.swaps(ask.here, code, at)).items
        if not alternatives:
            raise Unusable(ask.say("There is no other lick for phrase {phrase} of it.", phrase=at))
        chosen = alternatives[0].number
    made = await breaks.swap(ask.here.again("swap"), code, at, chosen)
    return await shown_break(ask, made, Wish(instrument=made.setting.instrument, **shown))  # type: ignore[arg-type]


def _to_swap(made: BreakOut) -> int:
    rests = [place.phrase for place in made.phrases if place.lick is None]
    return [*rests, made.phrases[-1].phrase][0]


async def choose_swap(ask: Ask, code: str, phrase: int | None = None, **shown: object) -> Answer:
    """What could take the place of a lick, best first, to choose from; without a phrase which one to change."""
    this = {"code": code, **{name: str(value) for name, value in shown.items()}}
    made = await breaks.one_break(ask.here, code)
    at = _to_swap(made) if phrase is None else phrase
    alternatives = (await breaks.swaps(ask.here, code, at)).items[:MOST_CHOICES]
    place = next((place for place in made.phrases if place.phrase == at), None)
    name = place.lick.name if place is not None and place.lick is not None else ask.say("a rest")
    others = [place for place in reversed(made.phrases) if place.phrase != at][:MOST_CHOICES]
    menus = [
        Menu(
            ask.say("Play here instead"),
            tuple(
                Choice(
                    f"{other.name} ({other.number})",
                    Call("break swap", {**this, "phrase": str(at), "lick": str(other.number)}),
                    _of_swap(ask, other),
                )
                for other in alternatives
            ),
        ),
        Menu(
            ask.say("Another phrase"),
            tuple(
                Choice(_place_name(ask, other), Call("break swaps", {**this, "phrase": str(other.phrase)}))
                for other in others
            ),
        ),
    ]
    return Reply(
        head=ask.say(
            "Phrase {phrase} is {name}. The tag at the end is the first to swap.", phrase=at, name=name
        ),
        menus=tuple(menu for menu in menus if menu.choices),
        private=True,
    )


def _place_name(ask: Ask, place: BreakPhraseOut) -> str:
    name = place.lick.name if place.lick is not None else ask.say("a rest")
    return f"{place.phrase}: {name}"


def _of_swap(ask: Ask, other: SwapOut) -> str:
    """What changes with another lick."""
    changes = [ask.say("level {level}", level=other.level)]
    if other.joins_change:
        changes.append(ask.say("smoother") if other.joins_change < 0 else ask.say("less smooth"))
    if round(100 * other.melody_change):
        nearer = other.melody_change > 0
        changes.append(ask.say("nearer to the tune") if nearer else ask.say("farther from the tune"))
    return ", ".join(changes)


async def licks_of_break(ask: Ask, code: str) -> Answer:
    """What is played where, how it fits, and how each join goes."""
    made = await breaks.one_break(ask.here, code)
    return Reply(head=headline(ask, made), notes=by_place(ask, made), code=code, private=True)


async def shown_break(ask: Ask, made: BreakOut, wish: Wish, filtered: str | None = None) -> Reply:
    """A break as its picture, what a player sets up by first, and what may come next."""
    if wish.key is not None or wish.capo is not None:
        made = await breaks.one_break(ask.here, made.code, wish.key, wish.capo)
    reply = Reply(
        head=headline(ask, made, wish.tempo),
        notes=in_short(ask, made, filtered),
        code=made.code,
        buttons=_next(ask, made, wish),
    )
    return await with_picture(ask, reply, f"/breaks/{made.code}", wish.shown())


async def filtered_total(ask: Ask, tune: str, wish: RandomIn) -> str | None:
    """How many breaks the wish leaves; None if it narrows nothing, or if only drawing could tell."""
    asked = {name: getattr(wish, name) for name in Filters.__struct_fields__}
    bare = Filters(instrument=wish.instrument, tuning=wish.tuning, settled=wish.settled, favour=wish.favour)
    filters = Filters(**asked)
    return None if filters == bare else (await breaks.count(ask.here, tune, filters)).total


def _next(ask: Ask, made: BreakOut, wish: Wish) -> tuple[tuple[Button, ...], ...]:
    """Two rows of buttons: other breaks, and what to do with this one."""

    def drawn(label: str, **changed: object) -> Button:
        given = {"tune": made.tune, **replace(wish, **changed).given()}  # type: ignore[arg-type]
        return Button(label, Call("break random", given), "main" if not changed else "plain")

    others = [drawn(ask.say("Another"))]
    if made.level > 1:
        others.append(drawn(ask.say("Easier"), level=made.level - 1))
    if made.level < HARDEST:
        others.append(drawn(ask.say("Harder"), level=made.level + 1))
    if wish.favour != "melody" and made.melody is not None and made.melody < CLOSE:
        others.append(drawn(ask.say("Closer to the tune"), favour="melody"))
    shown = {name: str(value) for name, value in wish.shown().items() if value is not None}
    this: Mapping[str, str] = {"code": made.code, **shown}
    return (
        tuple(others),
        (
            Button(ask.say("Sound"), Call("break sound", this)),
            Button(ask.say("Swap a lick"), Call("break swaps", this)),
            Button(ask.say("Loop"), Call("break loop", this)),
            *(() if ask.pictures else (Button(ask.say("Picture"), Call("break picture", this)),)),
            Button(ask.say("More"), Call("break more", this)),
        ),
    )


def headline(ask: Ask, made: BreakOut, tempo: int | None = None) -> str:
    """Tune, key, position, capo, fifth string, tempo: what a player sets up by."""
    return SEPARATOR.join(
        [
            made.tune_name,
            ask.say("key of {key}", key=made.setting.sounding),
            *set_up(ask, made.setting),
            f"{ask.say(made.tempo.unit)} = {tempo or made.tempo.bpm}",
        ]
    )


def set_up(ask: Ask, setting: SettingOut) -> list[str]:
    """Instrument and tuning, position, capo, and the fifth string where there is one."""
    tuning = ask.say(TUNINGS_BY_HEART.get(setting.tuning, setting.tuning))
    parts = [
        ask.say("{instrument} in {tuning}", instrument=ask.say(setting.instrument), tuning=tuning),
        ask.say("{key} position", key=setting.position),
        _capo(ask, setting.capo),
    ]
    if setting.stop_fret is not None:
        stopped, bare = (
            ask.say("fifth string at {fret}", fret=setting.stop_fret),
            ask.say("fifth string open"),
        )
        parts.append(stopped if setting.stop_fret else bare)
    return parts


def _capo(ask: Ask, fret: int) -> str:
    return ask.say("capo {fret}", fret=fret) if fret else ask.say("no capo")


def grouped(ask: Ask, number: str) -> str:
    """``48214`` as ``48,214``; elsewhere with narrow spaces, since a comma is the sign before decimals there (SI brochure, 5.4.4)."""
    told = f"{int(number):,}"
    return told if ask.language == "en" else told.replace(",", "\N{NARROW NO-BREAK SPACE}")


def in_short(ask: Ask, made: BreakOut, filtered: str | None = None) -> tuple[str, ...]:
    """Number, code, level; how many are as asked; top tempo, fit and melody of the whole."""
    at = f"{ask.say(made.tempo.unit)} = {made.tempo.bpm}"
    notes = [
        ask.say(
            "Number {number} of {total}, code {code}, level {level} at {tempo}.",
            number=grouped(ask, made.number), total=grouped(ask, made.total), code=made.code, level=made.level, tempo=at,
        )
    ]  # fmt: skip
    if filtered is not None and filtered != made.total:
        notes.append(ask.say("{count} of them are as you asked.", count=grouped(ask, filtered)))
    notes.append(_in_all(ask, made))
    return tuple(notes)


def by_place(ask: Ask, made: BreakOut) -> tuple[str, ...]:
    """A line for each lick, and one for each join."""
    notes = []
    joins = {join.phrase: join for join in made.joins}
    for place in made.phrases:
        notes.append(_of_place(ask, place))
        join = joins.get(place.phrase + place.phrases)
        if join is not None:
            said = " ".join(
                f"{reason.text} {reason.advice}" if reason.advice else reason.text for reason in join.reasons
            )
            notes.append("  " + ask.say("Into {phrase}: {said}", phrase=join.phrase, said=said))
    return tuple(notes)


def _in_all(ask: Ask, made: BreakOut) -> str:
    """Top tempo, fit and melody of the whole."""
    said = []
    if made.top is not None:
        said.append(ask.say("Comfortable up to {tempo}.", tempo=f"{ask.say(made.top.unit)} = {made.top.bpm}"))
    judged = [place.judgement.fit.share for place in made.phrases if place.judgement is not None]
    fits = [share for share in judged if share is not None]
    if fits:
        said.append(ask.say("It fits its chords {share}.", share=percent(sum(fits) / len(fits))))
    if made.melody is not None:
        said.append(ask.say("It recalls {share} of the melody.", share=percent(made.melody)))
    return " ".join(said)


def _of_place(ask: Ask, place: BreakPhraseOut) -> str:
    """A lick in its place, or why there is a rest."""
    judged = place.judgement
    if place.lick is None or judged is None:
        return f"{place.phrase} {place.note.text if place.note else ask.say('A rest.')}"
    parts = [ask.say("level {level}", level=judged.level)]
    if judged.fit.share is not None:
        parts.insert(0, ask.say("fits {share}", share=percent(judged.fit.share)))
    if judged.melody is not None:
        parts.append(ask.say("recalls {share}", share=percent(judged.melody.share)))
    if any(reason.code == "free-of-the-melody" for reason in judged.reasons):
        parts.append(ask.say("free"))
    return f"{place.phrase} {place.lick.name} ({place.lick.number}): {', '.join(parts)}."


def percent(share: float) -> str:
    return f"{round(100 * share)}\N{NO-BREAK SPACE}%"


_MELODY = Option(
    "melody", "whole", word("Recall at least so much of the melody, in per cent."), "m", least=1, most=100
)
_FAVOUR = Option("favour", "choice", word("Make breaks likelier that have more of it."), "f", choices=FAVOURS)
_WISHED = (LEVEL, STYLE, INSTRUMENT, TEMPO, KEY, CAPO, _MELODY)
_SEED = Option(
    "seed", "whole", word("The same number gives the same break from the same pool."), "s", least=0
)

COMMANDS = (
    Command(
        "break random",
        word("A fresh break of a tune, different every time."),
        random_break,
        (TUNE, *_WISHED, _FAVOUR, _SEED),
    ),
    Command(
        "break best",
        word("The smoothest or easiest break of a tune, or the one closest to it."),
        best_break,
        (TUNE, Option("by", "choice", word("What it shall be best at."), "o", choices=BEST), *_WISHED),
    ),
    Command(
        "break number",
        word("Number so-and-so of all breaks that your licks make."),
        numbered_break,
        (
            TUNE,
            Option(
                "number", "text", word("A whole number, as long as you like."), "u", required=True, most=200
            ),
            INSTRUMENT,
        ),
    ),
    Command("break show", word("A break shown before, by its code."), show_break, (CODE, TEMPO, KEY, CAPO)),
    Command(
        "break swap",
        word("Change one lick of a break, the tag at the end unless you say another."),
        swapped_break,
        (CODE, PHRASE, replace(LICK, required=False), TEMPO, KEY, CAPO),
    ),
    Command(
        "break swaps",
        word("What could take a lick's place, best first."),
        choose_swap,
        (CODE, PHRASE, TEMPO, KEY, CAPO),
        private=True,
        listed=False,
    ),
    Command(
        "break licks",
        word("What is played where in a break, and how each join goes."),
        licks_of_break,
        (CODE,),
        private=True,
    ),
)
