"""Evenings: planned, their breaks shared out, what was played; and the tunes that everybody knows."""

import re
from datetime import date

from bot.api import evenings, people, tunes
from bot.api.client import Refused
from bot.arguments import slug_of
from bot.asks import Ask
from bot.book import Command, Option
from bot.commands.marking import to_mend, unmarked
from bot.commands.phrases import MOST_CHOICES, short
from bot.commands.reading import day_read, keys_read, member_among
from bot.commands.terms import INSTRUMENTS, TUNE
from bot.replies import SEPARATOR, Answer, Blank, Button, Call, Choice, Form, Menu, Reply
from bot.trouble import Unusable
from bot.wording import word
from schemas.evenings import (
    EveningIn,
    EveningOut,
    EveningTuneIn,
    EveningTuneOut,
    JoiningIn,
    KnownIn,
    KnownTuneOut,
    PlayedIn,
    SharingIn,
    Standing,
)

MOST_LISTED = 10  # of anything, in a list; ours
_TUNE_IN_KEY = re.compile(r"(?P<tune>.*\S)\s+(?:in|en)\s+(?P<key>[A-Ga-g][#b]?m?)")


async def plan(ask: Ask, day: str, title: str, tunes: str = "") -> Answer:
    """Tunes by name, with commas between; one in another key as ``Heron Ferry in A``."""
    named = [part for part in tunes.split(",") if part.strip()]
    wanted = EveningIn(day=day_read(ask, day), title=title, tunes=[_wanted(part) for part in named])
    return await shown_evening(ask, await evenings.plan(ask.here, wanted))


def _wanted(text: str) -> EveningTuneIn:
    found = _TUNE_IN_KEY.fullmatch(text.strip())
    if found is None:
        return EveningTuneIn(tune=slug_of(text))
    key = found["key"]
    return EveningTuneIn(tune=slug_of(found["tune"]), key=key[0].upper() + key[1:])


async def every_evening(ask: Ask) -> Answer:
    found = await evenings.evenings(ask.here, MOST_LISTED)
    if not found:
        return Reply(head=ask.say("No evening is planned. An organiser plans one: evening plan."))
    choices = tuple(
        Choice(short(f"{one.day} {one.title}"), Call("evening show", {"evening": str(one.number)}))
        for one in found
    )
    return Reply(
        head=ask.say("Evenings, those planned last first"),
        notes=tuple(
            ask.say("{day} {title}: {count} tunes", day=one.day, title=one.title, count=len(one.tunes))
            for one in found
        ),
        menus=(Menu(ask.say("Look at one"), choices),),
    )


async def show(ask: Ask, evening: int) -> Answer:
    return await shown_evening(ask, await evenings.one_evening(ask.here, evening))


async def shown_evening(ask: Ask, found: EveningOut, *first: str) -> Reply:
    """Tunes in their order, who takes which break; ``first`` are notes that come before."""
    this = {"evening": str(found.number)}
    names = {tune.slug: tune.name for tune in (await tunes.tunes(ask.here)).items}
    buttons = (Button(ask.say("Share the breaks"), Call("evening sharing", this), "main"),)
    to_play = [item.tune for item in found.tunes if item.tune not in found.played][:MOST_CHOICES]
    choices = tuple(
        Choice(short(names.get(tune, tune)), Call("evening played", {"tune": tune, **this}))
        for tune in to_play
    )
    lines = (
        _of_tune(ask, item, names.get(item.tune, item.tune), item.tune in found.played)
        for item in found.tunes
    )
    return Reply(
        head=SEPARATOR.join([str(found.day), found.title]),
        notes=(*first, *lines),
        buttons=(buttons,) if ask.organises and found.tunes else (),
        menus=(Menu(ask.say("It was played"), choices),) if choices else (),
    )


def _of_tune(ask: Ask, item: EveningTuneOut, name: str, played: bool) -> str:
    line = ask.say("{tune} in {key}", tune=name, key=item.key)
    if item.breaks:
        takers = ", ".join(f"{turn.name} ({ask.say(turn.instrument)})" for turn in item.breaks)
        line = f"{line}: {takers}"
    if item.kick_off is not None:
        line = f"{line}. {ask.say('{name} kicks off.', name=item.kick_off.name)}"
    return f"{line} ✓" if played else line


async def sharing(ask: Ask, evening: int) -> Answer:
    """The form for who plays."""
    blank = Blank(
        "players", ask.say("Who plays what"), long=True, value=unmarked(ask.visitor.shown),
        hint=ask.say("Wren banjo, Otter guitar, Kit fiddle learning"),
    )  # fmt: skip
    return Form(ask.say("Share the breaks"), Call("evening share", {"evening": str(evening)}), (blank,))


async def share(ask: Ask, evening: int, players: str) -> Answer:
    """Breaks shared out evenly among those named: ``Wren banjo, Otter guitar``."""
    try:
        return await _shared(ask, evening, players)
    except (Refused, Unusable) as error:
        return to_mend(ask, error, players, {}, Call("evening sharing", {"evening": str(evening)}))


async def _shared(ask: Ask, evening: int, players: str) -> Reply:
    members = await people.every_member(ask.here)
    joining = []
    for part in filter(None, (part.strip() for part in re.split(r"[,\n]", players))):
        name, instrument, learning = _player(ask, part)
        member = member_among(ask, members, name)
        joining.append(JoiningIn(member=member.number, instrument=instrument, learning=learning))
    if not joining:
        raise Unusable(ask.say("Say who plays what, like: Wren banjo, Otter guitar."))
    made = await evenings.share(ask.here, evening, SharingIn(players=joining))
    if all(item.breaks for item in made.tunes):
        return await shown_evening(ask, made, ask.say("The breaks are shared out."))
    text = word(
        "Tunes without a name behind them: nobody you named knows them, or there are no licks for their instruments. Whoever knows"
        " one says so: tune know. Those who still learn it take part with “learning” behind their name."
    )
    return await shown_evening(ask, made, ask.say(text))


def _player(ask: Ask, text: str) -> tuple[str, str, bool]:
    """Name, instrument, and whether tunes that are still being learnt count, too. Raises Unusable."""
    words = text.split()
    learning = words[-1].casefold() in ("learning", ask.say("learning").casefold())
    if learning:
        words.pop()
    for instrument in INSTRUMENTS:
        for name in (instrument, instrument.replace("-", " "), ask.say(instrument)):
            last = name.casefold().split()
            if len(words) > len(last) and [one.casefold() for one in words[-len(last) :]] == last:
                return " ".join(words[: -len(last)]), instrument, learning
    raise Unusable(ask.say("“{text}” does not say who plays what: write it like Wren banjo.", text=text))


async def played(ask: Ask, tune: str, evening: int | None = None, day: str | None = None) -> Answer:
    """A tune was played: today, on a day, or on an evening."""
    if evening is not None:
        await evenings.played_then(ask.here, evening, tune)
        return await shown_evening(ask, await evenings.one_evening(ask.here, evening))
    when = None if day is None else day_read(ask, day)
    noted = await evenings.played(ask.here, PlayedIn(tune=tune, day=when))
    name = (await tunes.one_tune(ask.here, noted.tune)).name
    return Reply(head=ask.say("Noted: {tune} was played on {day}.", tune=name, day=noted.day))


# --- who knows which tune ----------------------------------------------------------------------------------------


async def know(ask: Ask, tune: str, keys: str | None = None, note: str | None = None) -> Answer:
    return await _stand(ask, tune, "know", keys, note)


async def learn(ask: Ask, tune: str, keys: str | None = None, note: str | None = None) -> Answer:
    return await _stand(ask, tune, "learning", keys, note)


async def park(ask: Ask, tune: str, keys: str | None = None, note: str | None = None) -> Answer:
    return await _stand(ask, tune, "parked", keys, note)


async def _stand(ask: Ask, tune: str, standing: Standing, keys: str | None, note: str | None) -> Answer:
    if ask.me.member is None:
        raise Unusable(ask.say("Only members keep a list of tunes."))
    sings = None if keys is None else keys_read(keys)
    made = await evenings.stand(
        ask.here, ask.me.member, tune, KnownIn(standing=standing, sings_in=sings, note=note)
    )
    name = (await tunes.one_tune(ask.here, made.tune)).name
    said = {
        "know": ask.say("You know {tune}.", tune=name),
        "learning": ask.say("You are learning {tune}.", tune=name),
        "parked": ask.say("{tune} is parked.", tune=name),
    }
    notes = (ask.say("You sing it in {keys}.", keys=", ".join(made.sings_in)),) if made.sings_in else ()
    return Reply(head=said[standing], notes=(*notes, ask.say("The group can see your list.")), private=True)


async def known(ask: Ask, key: str | None = None, least: int | None = None) -> Answer:
    """Which tunes are known, and by whom."""
    found = (await evenings.known(ask.here, key, least, MOST_LISTED)).items
    if not found:
        return Reply(
            head=ask.say("Nobody has said yet that they know such a tune. Say what you know: tune know.")
        )
    return Reply(head=ask.say("Tunes that we know"), notes=tuple(_known(ask, one) for one in found))


def _known(ask: Ask, one: KnownTuneOut) -> str:
    said = [
        ask.say(
            "{tune} ({key}): {names}", tune=one.name, key=one.key, names=", ".join(w.name for w in one.know)
        )
    ]
    if one.learning:
        said.append(ask.say("learning: {names}", names=", ".join(who.name for who in one.learning)))
    said += [
        ask.say("sung in {key} by {names}", names=", ".join(sung.singers), key=sung.key) for sung in one.sung
    ]
    return "; ".join(said)


async def due(ask: Ask) -> Answer:
    """Tunes to play again."""
    found = (await evenings.due(ask.here, MOST_LISTED)).items
    if not found:
        if not (await tunes.tunes(ask.here)).items:
            return Reply(head=ask.say("The group has no tunes yet. An organiser adds them."))
        return Reply(head=ask.say("No tune is due: all were played lately."))
    return Reply(
        head=ask.say("Tunes to play again, longest ago first"),
        notes=tuple(f"{one.name}: {_last(ask, one.last_played)}" for one in found),
    )


def _last(ask: Ask, day: date | None) -> str:
    return ask.say("never") if day is None else str(day)


EVENING = Option("evening", "evening", word("Which evening, by number or title."), "e", required=True)
_DAY = Option("day", "day", word("The day, as 2026-12-31."), "d", required=True)
_KEYS = Option("keys", "text", word("The keys you sing it in: G, A."), "k", most=80)
_NOTE = Option("note", "text", word("A few words."), "n", most=200)

COMMANDS = (
    Command(
        "evening plan",
        word("Plan an evening."),
        plan,
        (
            _DAY,
            Option("title", "text", word("What it is called."), "t", required=True, most=120),
            Option(
                "tunes", "text", word("Tunes with commas between; Heron Ferry in A for another key."), "u"
            ),
        ),
        organisers=True,
    ),
    Command("evening list", word("The evenings."), every_evening),
    Command("evening show", word("An evening: its tunes, and who takes which break."), show, (EVENING,)),
    Command(
        "evening share",
        word("Share the breaks of an evening out among those who play."),
        share,
        (
            EVENING,
            Option("players", "text", word("Who plays what: Wren banjo, Otter guitar."), "p", required=True),
        ),
        organisers=True,
    ),
    Command(
        "evening sharing",
        word("Say who plays what."),
        sharing,
        (EVENING,),
        form=True,
        listed=False,
        organisers=True,
    ),
    Command(
        "evening played",
        word("A tune was played."),
        played,
        (
            TUNE,
            Option("evening", "evening", word("On this evening."), "e"),
            Option("day", "day", word("On another day than today, as 2026-12-31."), "d"),
        ),
    ),
    Command("tune know", word("You know a tune."), know, (TUNE, _KEYS, _NOTE), private=True),
    Command("tune learn", word("You are learning a tune."), learn, (TUNE, _KEYS, _NOTE), private=True),
    Command("tune park", word("You leave a tune alone for now."), park, (TUNE, _KEYS, _NOTE), private=True),
    Command(
        "tune known",
        word("Which tunes we know, and who knows them."),
        known,
        (
            Option("key", "text", word("Tunes in this key alone."), "k", most=12),
            Option("least", "whole", word("Known by so many at least."), "l", least=1, most=1000),
        ),
    ),
    Command("tune due", word("Tunes to play again."), due),
)
