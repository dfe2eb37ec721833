"""Licks: look at one, hear it, find some for a phrase, search the pool."""

from collections.abc import Iterable
from dataclasses import replace

from bot.api import licks, tunes
from bot.asks import Ask
from bot.book import Command, Option
from bot.commands.breaks import percent
from bot.commands.hearing import BREAK, WORK_UP, Rows, heard, slower
from bot.commands.marking import marked
from bot.commands.phrases import MOST_CHOICES, menus, of_tune, short
from bot.commands.pictures import with_picture
from bot.commands.terms import CAPO, INSTRUMENT, LEVEL, LICK, PHRASE, ROLE, ROUNDS, START, STYLE, TEMPO, TUNE
from bot.replies import SEPARATOR, Answer, Button, Call, Reply
from bot.wording import word
from schemas.arrangements import LickProposalOut
from schemas.base import Sentence
from schemas.judgements import CandidateOut
from schemas.licks import LickOut

MOST_REASONS = 3  # of a lick that are shown; ours: more is not read on a phone
MOST_LISTED = 8
REASONED = 3  # of those listed, how many with all their reasons
IN_FIGURES = frozenset(
    ("fit-share", "melody-share", "top-tempo", "level")
)  # reasons that are told as numbers
STATES = {"draft": word("draft"), "reviewed": word("reviewed"), "retired": word("retired")}


async def lick_show(ask: Ask, lick: int) -> Answer:
    """A lick as its picture, what is judged of it, and what may come next."""
    return await shown_lick(ask, await licks.one_lick(ask.here, lick))


async def shown_lick(ask: Ask, found: LickOut) -> Reply:
    reply = Reply(head=heading(ask, found), notes=tuple(_told(ask, found)), buttons=_next(ask, found))
    return await with_picture(ask, reply, f"/licks/{found.number}")


def heading(ask: Ask, found: LickOut) -> str:
    parts = [
        f"{found.number} {found.name}",
        ask.say(found.instrument),
        ask.say(found.style),
        ask.say("level {level}", level=found.level),
    ]
    if found.state in STATES:
        parts.append(ask.say(STATES[found.state]))
    return SEPARATOR.join(parts)


def _told(ask: Ask, found: LickOut) -> list[str]:
    notes = [ask.say("Key of {key}, over {chords}.", key=found.key, chords=found.chart)]
    judged = []
    if found.fit.share is not None:
        judged.append(ask.say("It fits its chords {share}.", share=percent(found.fit.share)))
    if found.top is not None:
        top = f"{ask.say(found.top.unit)} = {found.top.bpm}"
        judged.append(ask.say("Comfortable up to {tempo}.", tempo=top))
    notes += [" ".join(judged)] if judged else []
    notes += reasons(found.reasons)
    if found.said is not None:
        notes.append(ask.say("An organiser says: {said}", said=found.said))
    if found.rights.origin == "adapted" and found.rights.source:
        notes.append(ask.say("Adapted from {source}.", source=found.rights.source))
    return notes


def reasons(found: Iterable[Sentence], most: int = MOST_REASONS) -> list[str]:
    """What is said of a lick beside its numbers, and what would help."""
    told = [
        f"{reason.text} {reason.advice}" if reason.advice else reason.text
        for reason in found
        if reason.code not in IN_FIGURES
    ]
    return told[:most]


def _next(ask: Ask, found: LickOut) -> Rows:
    this = {"lick": str(found.number)}
    rows = [
        (
            Button(ask.say("Sound"), Call("lick sound", this), "main"),
            Button(ask.say("Work-up"), Call("lick work-up", this)),
            Button(ask.say("Easier versions"), Call("lick easier", this)),
            Button(ask.say("Twins"), Call("lick twins", this)),
            Button(ask.say("Report"), Call("lick report", this)),
        )
    ]
    own = []
    if ask.organises or found.by == ask.me.name:
        own.append(Button(ask.say("Mend"), Call("lick mend", this)))
        if found.state != "retired":
            own.append(Button(ask.say("Retire"), Call("lick retire", this), "grave"))
    if ask.organises and found.state != "pool":
        own.insert(0, Button(ask.say("Into the pool"), Call("lick keep", this), "good"))
    return (rows[0], tuple(own)) if own else (rows[0],)


async def lick_sound(
    ask: Ask, lick: int, tempo: int | None = None, capo: int | None = None, rounds: int | None = None
) -> Answer:
    """A lick, a few times over."""
    found = await licks.one_lick(ask.here, lick)

    def buttons(bpm: int) -> Rows:
        this = {"lick": str(lick)}
        first = [Button(ask.say("Slower"), Call("lick sound", {**this, "tempo": str(slower(bpm))}))]
        if tempo is not None:
            first.append(Button(ask.say("Up to speed"), Call("lick sound", this), "main"))
        return ((*first, Button(ask.say("Work-up"), Call("lick work-up", this))),)

    query = {"tempo": tempo, "capo": capo, "rounds": rounds}
    return await heard(ask, heading(ask, found), f"/licks/{lick}", BREAK, query, buttons)


async def lick_work_up(
    ask: Ask, lick: int, start: int | None = None, tempo: int | None = None, capo: int | None = None
) -> Answer:
    """A lick from slow to fast, each new tempo counted in."""
    found = await licks.one_lick(ask.here, lick)

    def buttons(bpm: int) -> Rows:
        slow = {"lick": str(lick), "tempo": str(slower(bpm))}
        return ((Button(ask.say("To a slower tempo"), Call("lick work-up", slow)),),)

    query = {"from": start, "tempo": tempo, "capo": capo}
    return await heard(ask, heading(ask, found), f"/licks/{lick}", WORK_UP, query, buttons)


async def lick_find(
    ask: Ask, tune: str, phrase: int, instrument: str | None = None, level: int | None = None
) -> Answer:
    """Licks for a phrase, best first, with the reasons why they fit; the first as its picture."""
    of = await tunes.one_tune(ask.here, tune)
    most = MOST_CHOICES if level is None else tunes.MOST
    all_there = (await tunes.candidates(ask.here, tune, phrase, instrument, most)).items
    found = [one for one in all_there if level is None or one.level <= level]
    place = dict(of_tune(ask.say, of)).get(phrase, str(phrase))
    this = given_phrase(tune, phrase, instrument)
    propose = Button(ask.say("Propose others"), Call("lick propose", this))
    if not found:
        return Reply(
            head=ask.say(
                "There is no such lick yet for phrase {place} of {tune}. Send one in with: lick send.",
                place=place,
                tune=of.name,
            ),
            failed=True,
            buttons=((Button(ask.say("Send a lick"), Call("lick send", this)), propose),),
        )
    notes = [_candidate(ask, one, at < REASONED) for at, one in enumerate(found[:MOST_LISTED])]
    if len(found) > MOST_LISTED:
        notes.append(ask.say("And {count} more in the list.", count=len(found) - MOST_LISTED))
    choices = [
        (f"{one.name} ({one.number})", {"lick": one.number}, figures(ask, one))
        for one in found[:MOST_CHOICES]
    ]
    reply = Reply(
        head=SEPARATOR.join([of.name, ask.say("licks for phrase {place}", place=place)]),
        notes=tuple(notes),
        buttons=(
            (
                Button(ask.say("Hear the first"), Call("lick sound", {"lick": str(found[0].number)}), "main"),
                Button(ask.say("Send a lick"), Call("lick send", this)),
                propose,
            ),
        ),
        menus=menus(ask.say("Open a lick"), choices, "lick show"),
    )
    return await with_picture(ask, reply, f"/licks/{found[0].number}")


def given_phrase(tune: str, phrase: int, instrument: str | None) -> dict[str, str]:
    """What is given with a command about a phrase of a tune."""
    given = {"tune": tune, "phrase": str(phrase), "instrument": instrument}
    return {name: value for name, value in given.items() if value is not None}


def figures(ask: Ask, one: CandidateOut | LickProposalOut) -> str:
    parts = [ask.say("fits {share}", share=percent(one.fit)), ask.say("level {level}", level=one.level)]
    if one.melody:
        parts.append(ask.say("recalls {share}", share=percent(one.melody)))
    return ", ".join(parts)


def _candidate(ask: Ask, one: CandidateOut, reasoned: bool) -> str:
    line = f"{one.number} {one.name}: {figures(ask, one)}."
    return " ".join([line, *reasons(one.reasons)]) if reasoned else line


async def lick_search(
    ask: Ask,
    words: str | None = None,
    style: str | None = None,
    level: int | None = None,
    role: str | None = None,
    instrument: str | None = None,
) -> Answer:
    """Licks by words of their names, style, level, role."""
    found = await licks.licks(
        ask.here, words=words, style=style, level=level, role=role, instrument=instrument, limit=MOST_CHOICES
    )
    if not found.items:
        return Reply(
            head=ask.say("No lick is like that. Ask for less, or send one in with: lick send."), failed=True
        )
    return listed(ask, ask.say("Licks found"), found.items, more=found.next is not None)


def listed(ask: Ask, head: str, found: list[LickOut], *, more: bool) -> Reply:
    """Licks in a list; ``more``: there are some that the menu does not show either."""
    notes = [_in_list(ask, one) for one in found[:MOST_LISTED]]
    if more:
        notes.append(ask.say("There are more than the {count} in the list: ask for less.", count=len(found)))
    elif len(found) > MOST_LISTED:
        notes.append(ask.say("And {count} more in the list.", count=len(found) - MOST_LISTED))
    choices = [(f"{one.name} ({one.number})", {"lick": one.number}, _kind(ask, one)) for one in found]
    return Reply(head=head, notes=tuple(notes), menus=menus(ask.say("Open a lick"), choices, "lick show"))


def _in_list(ask: Ask, one: LickOut) -> str:
    return f"{one.number} {short(one.name, 60)}: {_kind(ask, one)}."


def _kind(ask: Ask, one: LickOut) -> str:
    parts = [ask.say(one.instrument), ask.say(one.style), ask.say("level {level}", level=one.level)]
    if one.state in STATES:
        parts.append(ask.say(STATES[one.state]))
    return ", ".join(parts)


async def lick_easier(ask: Ask, lick: int, which: int = 1) -> Answer:
    """A simpler version of a lick as text, the hardest first; it can be sent in as a lick of its own."""
    of = await licks.one_lick(ask.here, lick)
    found = (await licks.easier(ask.here, lick)).items
    if not found:
        return Reply(head=ask.say("{name} is as easy as it gets.", name=of.name), failed=True)
    at = min(which, len(found))
    version = found[at - 1]
    row = []
    if at < len(found):
        following = {"lick": str(lick), "which": str(at + 1)}
        row.append(Button(ask.say("Easier still"), Call("lick easier", following), "main"))
    row.append(
        Button(ask.say("Send it in"), Call("lick send", {"instrument": of.instrument, "style": of.style}))
    )
    return Reply(
        head=ask.say(
            "{name}, simpler: {number} of {count}, level {level}",
            name=of.name, number=at, count=len(found), level=version.level,
        ),
        tab=marked(version.tab.strip("\n"), (), {"name": version.name, "chords": version.chords, "key": of.key}),
        notes=tuple(reason.text for reason in version.reasons[:MOST_REASONS]),
        buttons=(tuple(row),),
    )  # fmt: skip


async def lick_twins(ask: Ask, lick: int) -> Answer:
    """Licks of the pool that are this one, or nearly."""
    of, found = await licks.one_lick(ask.here, lick), (await licks.twins(ask.here, lick)).items
    if not found:
        return Reply(head=ask.say("{name} has no twin in the pool.", name=of.name))
    choices = [(twin.text, {"lick": twin.number}, "") for twin in found]
    return Reply(
        head=ask.say("Twins of {name}", name=of.name),
        notes=tuple(twin.text for twin in found[:MOST_LISTED]),
        menus=menus(ask.say("Open a lick"), choices[:MOST_CHOICES], "lick show"),
    )


_WORDS = Option("words", "text", word("Words of its name, or parts of them."), "q", most=100)
_WHICH = Option("which", "whole", word("The how manieth version."), "w", least=1, most=50)

COMMANDS = (
    Command(
        "lick show", word("A lick of the pool: its picture and what is judged of it."), lick_show, (LICK,)
    ),
    Command(
        "lick sound", word("How a lick sounds, a few times over."), lick_sound, (LICK, TEMPO, CAPO, ROUNDS)
    ),
    Command("lick work-up", word("A lick from slow to fast."), lick_work_up, (LICK, START, TEMPO, CAPO)),
    Command(
        "lick find",
        word("Licks for a phrase of a tune, best first, and why."),
        lick_find,
        (TUNE, replace(PHRASE, required=True), INSTRUMENT, LEVEL),
    ),
    Command(
        "lick search",
        word("Licks by words of their names, style, level, role."),
        lick_search,
        (_WORDS, STYLE, LEVEL, ROLE, replace(INSTRUMENT, about=word("Licks of this instrument alone."))),
    ),
    Command("lick easier", word("Simpler versions of a lick."), lick_easier, (LICK, _WHICH)),
    Command("lick twins", word("Licks that are this one, or nearly."), lick_twins, (LICK,)),
)
