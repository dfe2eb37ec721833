"""How a tune is cut into phrases and what role each has: shown phrase by phrase, and changed by organisers."""

import re
import textwrap
from dataclasses import replace
from typing import Any, cast

import msgspec

from bot.api import tunes
from bot.asks import Ask
from bot.book import Command, Option
from bot.commands.phrases import menus, named
from bot.commands.terms import PHRASE, ROLES, TUNE
from bot.replies import SEPARATOR, Answer, Blank, Button, Call, Form, Reply
from bot.trouble import Unusable
from bot.wording import word
from schemas.tunes import PhraseOut, Role, RoleIn, TuneOut

MOST_PART, MOST_MEASURES = 12, 64  # letters of a part's name; measures of a phrase, as the service takes them
MOST_CUTS = 1000  # characters of the cuts of a part
MOST_IN_ROW = 5  # buttons, as chats show them
LEAST_CHORDS = 9  # columns; where fewer are left beside the rest of a line, chords go below it
PROPOSED = "proposed"  # instead of a role: the one that the chords ask for
BY_HAND = "*"


async def tune_phrases(ask: Ask, tune: str) -> Answer:
    """Each phrase once: its number, part, measures, role and chords."""
    return shown_cuts(ask, await tunes.one_tune(ask.here, tune))


async def tune_role(ask: Ask, tune: str, phrase: int, role: str | None = None) -> Answer:
    """Another role for a phrase and for all that are played like it; without one, which there are."""
    was = await tunes.one_tune(ask.here, tune)
    meant = next((one for one in was.phrases if one.number == phrase), None)
    if meant is None:
        raise Unusable(
            ask.say(
                "{tune} has no phrase {phrase}: they go from 1 to {last}.",
                tune=was.name,
                phrase=phrase,
                last=len(was.phrases),
            )
        )
    place = named(ask.say, meant.number, meant.part, meant.chords)
    if role is None:
        return _roles(ask, was, meant, place)
    roles = [one for one in was.roles if (one.part, one.phrase) != (meant.part, meant.index)]
    if role != PROPOSED:
        roles.append(RoleIn(part=meant.part, phrase=meant.index, role=cast(Role, role)))
    body = msgspec.structs.replace(tunes.as_sent(was), roles=roles)
    made = await tunes.change(ask.here.again("tune"), was.slug, was.revision, body)
    now = next(one for one in made.phrases if one.number == phrase)
    return _changed(ask, made, ask.say("Phrase {place}: {role}.", place=place, role=ask.say(now.role)))


def _roles(ask: Ask, tune: TuneOut, phrase: PhraseOut, place: str) -> Reply:
    this = {"tune": tune.slug, "phrase": str(phrase.number)}
    wanted = [one for one in ROLES if one != phrase.role]
    by_hand = (phrase.part, phrase.index) in _given(tune)
    return Reply(
        head=SEPARATOR.join([tune.name, ask.say("phrase {place}", place=place)]),
        notes=(
            ask.say("Its role: {role}.", role=ask.say(phrase.role))
            if by_hand
            else ask.say("Its role, as the chords propose it: {role}.", role=ask.say(phrase.role)),
            ask.say("An opener begins, a set-up leads to the tag, a tag closes; a body is all between."),
        ),
        buttons=(
            (
                *(Button(ask.say(one), Call("tune role", {**this, "role": one})) for one in wanted),
                *(
                    [Button(ask.say("As proposed"), Call("tune role", {**this, "role": PROPOSED}))]
                    if by_hand
                    else ()
                ),
            ),
        ),
        private=True,
    )


async def tune_cut(ask: Ask, tune: str, part: str, measures: str) -> Answer:
    """How many measures each phrase of a part has."""
    was = await tunes.one_tune(ask.here, tune)
    name = next((one for one in was.cuts if one.casefold() == part.strip().casefold()), None)
    if name is None:
        raise Unusable(
            ask.say("There is no part {part}. Parts: {known}.", part=part, known=", ".join(was.cuts))
        )
    cuts, whole = cuts_read(measures), sum(was.cuts[name])
    wrong = ""
    if cuts is None:
        wrong = ask.say(
            "“{text}” does not say how many measures each phrase has: write whole numbers from 1 to {most}, as in 2 2 4.",
            text=measures[:40],
            most=MOST_MEASURES,
        )
    elif sum(cuts) != whole:
        wrong = ask.say(
            "Measures in {cuts}: {sum}. Part {part} has {wanted}: write numbers that make {wanted} together.",
            cuts=" ".join(map(str, cuts)),
            sum=sum(cuts),
            part=name,
            wanted=whole,
        )
    if cuts is None or wrong:
        again = _cut_button(ask, was, name)
        return Reply(head=wrong, tab=_table(ask, was), failed=True, buttons=((again,),))
    if cuts == was.cuts[name]:
        return shown_cuts(ask, was)
    body = msgspec.structs.replace(
        tunes.as_sent(was),
        cuts={**was.cuts, name: cuts},
        roles=[one for one in was.roles if one.part != name],
    )
    made = await tunes.change(ask.here.again("tune"), was.slug, was.revision, body)
    return _changed(ask, made, cut_now(ask, made, name))


async def tune_recut(ask: Ask, tune: str, part: str) -> Answer:
    """The form for the cuts of a part, with those of the message whose button was pressed."""
    shown = re.findall(rf"^ *\d+ {re.escape(part)}\.\d+ +(\d+) ", ask.visitor.shown, re.MULTILINE)
    return Form(
        ask.say("Phrases of part {part}", part=part),
        Call("tune cut", {"tune": tune, "part": part}),
        (
            Blank(
                "measures", ask.say("Measures of each phrase"), value=" ".join(shown)[:MOST_CUTS],
                hint=ask.say("2 2 4"), most=MOST_CUTS,
            ),
        ),
    )  # fmt: skip


def cuts_read(text: str) -> list[int] | None:
    """``2 2 4``, ``2+2+4`` or ``2, 2, 4``; None for what is none."""
    words = re.split(r"[\s,;+-]+", text.strip())
    if not all(re.fullmatch(r"[0-9]{1,2}", one) and 1 <= int(one) <= MOST_MEASURES for one in words):
        return None
    return [int(one) for one in words]


def shown_cuts(ask: Ask, tune: TuneOut, *first: str) -> Reply:
    """The table of phrases; for organisers with what changes a role or the cuts of a part."""
    this = {"tune": tune.slug}
    given = _given(tune)
    notes = [
        *first,
        ask.say(
            "Form {order}. Phrases as played: {count}.", order=" ".join(tune.order), count=len(tune.phrases)
        ),
        ask.say("Each line: number as played, part and phrase, measures, role, chords."),
    ]
    if given:
        notes.append(ask.say("{mark} given by an organiser; other roles are proposed.", mark=BY_HAND))
    else:
        notes.append(ask.say("The roles are proposed from the chords."))
    rows: list[tuple[Button, ...]] = []
    choices: list[tuple[str, dict[str, Any], str]] = []
    if ask.organises:
        rows.append(tuple(_cut_button(ask, tune, part) for part in tune.cuts)[:MOST_IN_ROW])
        choices = [
            (
                named(ask.say, one.number, one.part, one.chords),
                {**this, "phrase": one.number},
                ask.say(one.role),
            )
            for one in _once_each(tune)
        ]
    return Reply(
        head=SEPARATOR.join([tune.name, ask.say("phrases")]),
        tab=_table(ask, tune),
        notes=tuple(notes),
        buttons=tuple(rows),
        menus=menus(ask.say("Another role for a phrase"), choices, "tune role"),
        private=True,
    )


def _changed(ask: Ask, made: TuneOut, said: str) -> Reply:
    """The tune as it is cut now. Its plain break was made of the phrases before, and can be arranged anew."""
    if not made.melody:
        return shown_cuts(ask, made, said)
    reply = shown_cuts(ask, made, said, ask.say("The plain break was made before this: arrange it anew."))
    played = list(made.plain)[:MOST_IN_ROW]
    arrange = ask.say("Arrange anew")
    row = [
        Button(
            arrange if len(played) == 1 else f"{arrange}, {ask.say(instrument)}",
            Call("tune arrange", {"tune": made.slug, "instrument": instrument}),
            "main",
        )
        for instrument in played
    ] or [Button(arrange, Call("tune arrange", {"tune": made.slug}), "main")]
    return replace(reply, buttons=(tuple(row), *reply.buttons))


def cut_now(ask: Ask, tune: TuneOut, part: str) -> str:
    return ask.say(
        "Measures of part {part}: {count}, cut {cuts}. The roles of its phrases are proposed from the chords.",
        part=part,
        count=sum(tune.cuts[part]),
        cuts=" ".join(map(str, tune.cuts[part])),
    )


def cut_anew(ask: Ask, was: TuneOut, made: TuneOut) -> list[str]:
    """What is said of parts that have another number of measures than before: their cuts and roles are none of before."""
    return [
        cut_now(ask, made, part)
        for part, cuts in made.cuts.items()
        if part in was.cuts and sum(cuts) != sum(was.cuts[part])
    ]


def _table(ask: Ask, tune: TuneOut) -> str:
    """A line a phrase: its number, part and place in it, measures, role and chords."""
    shown = _once_each(tune)
    given = _given(tune)
    cells = [
        (
            str(one.number),
            f"{one.part}.{one.index}",
            str(tune.cuts[one.part][one.index - 1]),
            ask.say(one.role) + (BY_HAND if (one.part, one.index) in given else ""),
        )
        for one in shown
    ]
    first, *others = (max(map(len, column)) for column in zip(*cells, strict=True))
    leads = [
        " ".join([number.rjust(first), *(cell.ljust(most) for cell, most in zip(rest, others, strict=True))])
        for number, *rest in cells
    ]
    width = ask.page.width
    room = width - len(leads[0]) - 1
    beside = room >= min(LEAST_CHORDS, max(len(one.chords) for one in shown))
    indent = " " * (len(leads[0]) + 1 if beside else first + 1)
    lines: list[str] = []
    for phrase, lead in zip(shown, leads, strict=True):
        begun = f"{lead} " if beside else indent
        lines += [] if beside else [lead.rstrip()]
        lines += textwrap.wrap(phrase.chords, width, initial_indent=begun, subsequent_indent=indent)
    return "\n".join(lines)


def _once_each(tune: TuneOut) -> list[PhraseOut]:
    """Phrases as they are played first."""
    first: dict[tuple[str, int], PhraseOut] = {}
    for phrase in tune.phrases:
        first.setdefault((phrase.part, phrase.index), phrase)
    return list(first.values())


def _given(tune: TuneOut) -> set[tuple[str, int]]:
    """The phrases, by part and place in it, whose roles somebody gave."""
    return {(one.part, one.phrase) for one in tune.roles}


def _cut_button(ask: Ask, tune: TuneOut, part: str) -> Button:
    return Button(
        ask.say("Cut {part} anew", part=part), Call("tune recut", {"tune": tune.slug, "part": part})
    )


_PART = Option(
    "part", "text", word("A part of the tune, by its name: A, B."), "p", required=True, most=MOST_PART
)
_MEASURES = Option(
    "measures",
    "text",
    word("How many measures each of its phrases has: 2 2 4."),
    "m",
    required=True,
    most=MOST_CUTS,
)
_ROLE = Option(
    "role",
    "choice",
    word("What the phrase shall be; proposed is what the chords ask for."),
    "o",
    choices=(*ROLES, PROPOSED),
)

COMMANDS = (
    Command(
        "tune phrases",
        word("How a tune is cut into phrases, and their roles."),
        tune_phrases,
        (TUNE,),
        private=True,
    ),
    Command(
        "tune role",
        word("Another role for a phrase of a tune."),
        tune_role,
        (TUNE, replace(PHRASE, required=True), _ROLE),
        private=True,
        organisers=True,
    ),
    Command(
        "tune cut",
        word("How many measures each phrase of a part has."),
        tune_cut,
        (TUNE, _PART, _MEASURES),
        private=True,
        organisers=True,
    ),
    Command("tune recut", word("Cuts of a part to be typed."), tune_recut, (TUNE, _PART), form=True, listed=False, organisers=True),
)  # fmt: skip
