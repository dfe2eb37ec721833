"""Licks sent in, mended and retired; what waits for an organiser."""

from dataclasses import dataclass, replace
from pathlib import PurePath

from bot.api import groups, licks, tunes
from bot.api.client import Refused, Unreachable
from bot.asks import Ask
from bot.book import Command, Option, Sent
from bot.commands.licks import heading, listed, reasons, shown_lick
from bot.commands.marking import fields_of, marked, to_mend, told_places, unmarked
from bot.commands.phrases import MOST_CHOICES
from bot.commands.terms import INSTRUMENT, LICK, PHRASE, STYLE, TUNE
from bot.replies import Answer, Blank, Button, Call, Form, Reply
from bot.trouble import Unusable
from bot.wording import word
from schemas.licks import LickIn, LickOut, LickRightsIn, ReviewIn

MOST_FILE = 1 << 20  # bytes of a file with a lick; the service takes that much
MOST_NAME, MOST_CHORDS, MOST_KEY, MOST_SOURCE, MOST_TAB = 120, 400, 12, 200, 4000
TRADITIONAL = word("traditional")


@dataclass(frozen=True, slots=True)
class Typed:
    """What stands in a form's blanks: the tab, and what else there is to say of it by name."""

    text: str = ""
    name: str = ""
    chords: str = ""
    key: str = ""
    source: str = ""

    def fields(self) -> dict[str, str]:
        return {"name": self.name, "chords": self.chords, "key": self.key, "from": self.source}


@dataclass(frozen=True, slots=True)
class Over:
    """What a lick is for and how it is played, as it goes from button to form; tuning and meter are those of a file."""

    tune: str | None = None
    phrase: int | None = None
    instrument: str | None = None
    style: str | None = None
    tuning: str | None = None
    meter: str | None = None

    @property
    def phrase_known(self) -> bool:
        return self.tune is not None and self.phrase is not None

    def call(self, command: str) -> Call:
        given = {"tune": self.tune, "phrase": self.phrase, "instrument": self.instrument, "style": self.style,
                 "tuning": self.tuning, "meter": self.meter}  # fmt: skip
        return Call(command, {name: str(value) for name, value in given.items() if value is not None})


def _shown(ask: Ask) -> Typed:
    """What was typed before, out of the message whose button was pressed; a tab without a name there is somebody else's."""
    fields = fields_of(ask.visitor.shown)
    if "name" not in fields:
        return Typed()
    return Typed(
        unmarked(ask.visitor.shown).strip("\n"),
        fields.get("name", ""), fields.get("chords", ""), fields.get("key", ""), fields.get("from", ""),
    )  # fmt: skip


def _blanks(ask: Ask, typed: Typed, *, chords_needed: bool, source: bool) -> tuple[Blank, ...]:
    chords_hint = ask.say("| G | C D |") if chords_needed else ask.say("Empty: as the phrase has it")
    blanks = [
        Blank("name", ask.say("What it is called"), value=typed.name, most=MOST_NAME),
        Blank(
            "text", ask.say("Tab, or one line of string numbers"), long=True, value=typed.text[:MOST_TAB],
            hint=ask.say("Paste it as you have it."), most=MOST_TAB,
        ),
        Blank(
            "chords", ask.say("Chords by measure, without capo"), required=chords_needed, value=typed.chords,
            hint=chords_hint, most=MOST_CHORDS,
        ),
        Blank(
            "key", ask.say("Key, without capo"), required=chords_needed, value=typed.key,
            hint=ask.say("G, or Am") if chords_needed else chords_hint, most=MOST_KEY,
        ),
    ]  # fmt: skip
    if source:
        hint = ask.say("Empty: your own. Else: traditional, or what it is from")
        blanks.append(
            Blank(
                "source",
                ask.say("Where is it from?"),
                required=False,
                value=typed.source,
                hint=hint,
                most=MOST_SOURCE,
            )
        )
    return tuple(blanks)


async def lick_send(
    ask: Ask,
    tune: str | None = None,
    phrase: int | None = None,
    instrument: str | None = None,
    style: str | None = None,
    chords: str = "",
    key: str = "",
    file: Sent | None = None,
    tuning: str | None = None,
    meter: str | None = None,
) -> Answer:
    """A form for a lick; over a phrase of a tune its chords and key are known. With a file, what is read of it, to be looked over
    before it goes into the form."""
    over = Over(tune, phrase, instrument, style, tuning, meter)
    if file is not None:
        return await _read_from(ask, file, over, chords, key)
    typed = _shown(ask)
    typed = replace(typed, chords=typed.chords or chords, key=typed.key or key)
    return Form(
        ask.say("Send a lick"),
        over.call("lick new"),
        _blanks(ask, typed, chords_needed=not over.phrase_known, source=True),
    )


async def _read_from(ask: Ask, file: Sent, over: Over, chords: str, key: str) -> Reply:
    if file.size > MOST_FILE:
        raise Unusable(
            ask.say("That file is too large: {most} MiB is the most. Send one lick.", most=MOST_FILE >> 20)
        )
    try:
        found = await licks.read(ask.here, await file.read(), over.instrument)
    except Refused as refused:
        problem = refused.problem
        if problem.status >= 500 or not problem.at:
            raise
        return Reply(head=problem.detail, notes=told_places(ask, problem.at), failed=True)
    if len(found.text) > MOST_TAB:
        raise Unusable(
            ask.say(
                "Its tab is too long for a form: {most} characters is the most. Send a part of it.",
                most=MOST_TAB,
            )
        )
    name = (found.name or PurePath(file.name).stem or ask.say("A lick"))[:MOST_NAME]
    fields = {"name": name, "chords": chords, "key": key}
    over = replace(over, tuning=found.tuning)
    if not over.phrase_known:  # there they are those of the phrase
        read = found.chords if len(found.chords) <= MOST_CHORDS else ""  # those are typed anew
        fields |= {"chords": chords or read, "key": key or found.key}
        over = replace(over, meter=found.meter)
    return Reply(
        head=ask.say("{name}, as I read it. Look it over, then send it in.", name=name),
        tab=marked(found.text.strip("\n"), (), fields),
        notes=told_places(ask, found.remarks),
        buttons=((Button(ask.say("Send it in"), over.call("lick send"), "main"),),),
        private=True,
    )


async def lick_new(
    ask: Ask,
    name: str,
    text: str,
    tune: str | None = None,
    phrase: int | None = None,
    instrument: str | None = None,
    style: str | None = None,
    chords: str = "",
    key: str = "",
    source: str = "",
    tuning: str | None = None,
    meter: str | None = None,
) -> Answer:
    """Sends in what was typed; what cannot be used comes back with marks."""
    typed = Typed(text, name, chords, key, source)
    over = Over(tune, phrase, instrument, style, tuning, meter)
    try:
        sent = await _lick(ask, typed, over)
        made = await licks.send(ask.here, sent)
    except (Refused, Unreachable, Unusable, TimeoutError) as error:
        return to_mend(ask, error, text, typed.fields(), over.call("lick send"))
    return await _sent(ask, made, text, [caution.text for caution in made.cautions])


async def _lick(ask: Ask, typed: Typed, over: Over) -> LickIn:
    """Raises Unusable where a style is none of the instrument's, or chords or key are missing."""
    chords, key, role = typed.chords, typed.key, None
    instrument, tuning, meter = over.instrument, over.tuning, over.meter
    if over.tune is not None and over.phrase is not None:
        place = await tunes.phrase_in_hand(ask.here, over.tune, over.phrase, instrument)
        chords, key, role, meter = chords or place.chart, key or place.key, place.role, place.meter
        instrument, tuning = place.instrument, tuning or place.tuning
    elif instrument is None:
        group = await groups.group(ask.here)
        instrument, tuning = group.instrument, tuning or group.tuning
    if not chords.strip() or not key.strip():
        raise Unusable(
            ask.say("Say over which chords and in which key it goes, or give a tune and a phrase.")
        )
    hand, style = await _hand(ask, instrument, over.style)
    return LickIn(
        name=typed.name, text=typed.text, instrument=instrument, chords=chords, key=key, hand_style=hand,
        style=style, tuning=tuning, meter=meter, role=role,  # type: ignore[arg-type]
        rights=_rights(ask, typed.source),
    )  # fmt: skip


async def _hand(ask: Ask, instrument: str, style: str | None) -> tuple[str, str]:
    """The hand style that a style belongs to on an instrument; without a style its usual one."""
    all_of = (await licks.instruments(ask.here)).items
    hands = next((one.hand_styles for one in all_of if one.id == instrument), {})
    for hand, styles in hands.items():
        if style is None or style in styles:
            return hand, style or styles[0]
    known = ", ".join(ask.say(one) for styles in hands.values() for one in styles)
    raise Unusable(
        ask.say(
            "“{style}” is no style of the {instrument}: choose one of {styles}.",
            style=ask.say(style or ""), instrument=ask.say(instrument), styles=known,
        )
    )  # fmt: skip


def _rights(ask: Ask, source: str) -> LickRightsIn:
    """Nothing typed means one's own; ``traditional`` in the reader's language too."""
    plain = source.strip()
    if not plain:
        return LickRightsIn()
    if plain.casefold() in (TRADITIONAL, ask.say(TRADITIONAL).casefold()):
        return LickRightsIn(origin="traditional")
    return LickRightsIn(origin="adapted", source=plain)


async def _sent(ask: Ask, made: LickOut, text: str, cautions: list[str]) -> Reply:
    """A lick that was sent in or mended: in the pool as its picture, or held back with what to mend."""
    if made.state == "pool":
        reply = await shown_lick(ask, made)
        head = ask.say("Lick {number} is in the pool: {name}", number=made.number, name=made.name)
        return replace(reply, head=head, notes=(*reply.notes, *cautions))
    rewrite = Call("lick rewrite", {"lick": str(made.number), "revision": str(made.revision)})
    return Reply(
        head=ask.say(
            "Lick {number}, {name}, is kept as a draft. Mend it, or let an organiser keep it as it is.",
            number=made.number, name=made.name,
        ),
        tab=marked(text, (), {"name": made.name, "chords": made.chart, "key": made.key}),
        notes=(*reasons(made.reasons), *cautions),
        buttons=((Button(ask.say("Mend it"), rewrite, "main"),),),
        private=True,
    )  # fmt: skip


async def lick_mend(ask: Ask, lick: int) -> Answer:
    """A lick as text, to be typed anew."""
    found = await licks.one_lick(ask.here, lick)
    rewrite = Call("lick rewrite", {"lick": str(lick), "revision": str(found.revision)})
    return Reply(
        head=heading(ask, found),
        tab=marked(found.tab.strip("\n"), (), {"name": found.name, "chords": found.chart, "key": found.key}),
        notes=tuple(reasons(found.reasons)),
        buttons=((Button(ask.say("Mend it"), rewrite, "main"),),),
        private=True,
    )


async def lick_rewrite(ask: Ask, lick: int, revision: int) -> Answer:
    """The form with what the message shows in its blanks."""
    return Form(
        ask.say("Mend lick {number}", number=lick),
        Call("lick mended", {"lick": str(lick), "revision": str(revision)}),
        _blanks(ask, _shown(ask), chords_needed=True, source=False),
    )


async def lick_mended(
    ask: Ask, lick: int, revision: int, name: str, text: str, chords: str, key: str
) -> Answer:
    """A new revision, unless somebody else was quicker; its level is judged anew."""
    try:
        was = await licks.one_lick(ask.here, lick)
        sent = LickIn(
            name=name, text=text, instrument=was.instrument, chords=chords, key=key, hand_style=was.hand_style,
            style=was.style, tuning=was.tuning, meter=was.meter, role=was.role,  # type: ignore[arg-type]
            phrases=was.phrases, rights=was.rights,
        )  # fmt: skip
        made = await licks.change(ask.here, lick, revision, sent)
    except (Refused, Unreachable, TimeoutError) as error:
        again = Call("lick rewrite", {"lick": str(lick), "revision": str(revision)})
        return to_mend(ask, error, text, {"name": name, "chords": chords, "key": key}, again)
    return await _sent(ask, made, text, [])


async def lick_retire(ask: Ask, lick: int) -> Answer:
    """Out of the pool; breaks made with it stay."""
    found = await licks.one_lick(ask.here, lick)
    await licks.retire(ask.here, lick)
    back = Button(ask.say("Take that back"), Call("lick keep", {"lick": str(lick)}))
    return Reply(
        head=ask.say(
            "Lick {number}, {name}, is retired. Breaks made with it stay.", number=lick, name=found.name
        ),
        buttons=((back,),) if ask.organises else (),
    )


async def lick_keep(ask: Ask, lick: int) -> Answer:
    """Into the pool as it is; one that was retired is a draft again first."""
    if (await licks.one_lick(ask.here, lick)).state == "retired":
        back = ReviewIn(decision="back", reason=ask.say("It is taken out of retirement."))
        await licks.review(ask.here.again("back"), lick, back)
    kept = await licks.review(ask.here, lick, ReviewIn(decision="keep"))
    reply = await shown_lick(ask, kept)
    return replace(
        reply, head=ask.say("Lick {number} is in the pool: {name}", number=kept.number, name=kept.name)
    )


async def lick_waiting(ask: Ask) -> Answer:
    """Drafts, and what was reviewed and waits."""
    reviewed = await licks.licks(ask.here, state="reviewed", limit=MOST_CHOICES)
    drafts = await licks.licks(ask.here, state="draft", limit=MOST_CHOICES)
    found = [*reviewed.items, *drafts.items]
    if not found:
        return Reply(head=ask.say("No lick waits for you."), private=True)
    more = reviewed.next is not None or drafts.next is not None
    return replace(listed(ask, ask.say("These licks wait to be decided"), found, more=more), private=True)


def _text(name: str, about: str, short: str, most: int, required: bool = False) -> Option:
    return Option(name, "text", about, short, required=required, most=most)


_OVER = (
    replace(TUNE, required=False, about=word("The tune it is for.")),
    replace(PHRASE, about=word("The phrase it is for: then its chords are known.")),
    INSTRUMENT,
    replace(STYLE, about=word("How it is played.")),
)
_CHORDS = _text("chords", word("Its chords by measure, without capo: | G | C D |"), "c", MOST_CHORDS)
_KEY = _text("key", word("Its key, without capo."), "k", MOST_KEY)
_TYPED = (
    _text("name", word("What it is called."), "m", MOST_NAME, required=True),
    _text("text", word("Its tab, or one line of string numbers."), "x", MOST_TAB, required=True),
)
_OF_FILE = (
    Option("tuning", "text", word("Its tuning."), "u", most=12, hidden=True),
    Option("meter", "text", word("Its meter."), "e", most=12, hidden=True),
)
_FILE = Option("file", "file", word("MusicXML with a tab staff, instead of typing."), "f")
_REVISION = Option("revision", "whole", word("The revision that was shown."), "v", required=True, least=1)

COMMANDS = (
    Command(
        "lick send", word("Send a lick in."), lick_send, (*_OVER, _CHORDS, _KEY, _FILE, *_OF_FILE), form=True
    ),
    Command(
        "lick new",
        word("A lick as it was typed."),
        lick_new,
        (
            *_TYPED,
            *_OVER,
            _CHORDS,
            _KEY,
            _text("source", word("Where it is from."), "s", MOST_SOURCE),
            *_OF_FILE,
        ),
        listed=False,
    ),
    Command("lick mend", word("Mend a lick that you sent in."), lick_mend, (LICK,), private=True),
    Command(
        "lick rewrite",
        word("A lick to be typed anew."),
        lick_rewrite,
        (LICK, _REVISION),
        form=True,
        listed=False,
    ),
    Command(
        "lick mended",
        word("A lick as it was typed anew."),
        lick_mended,
        (LICK, _REVISION, *_TYPED, replace(_CHORDS, required=True), replace(_KEY, required=True)),
        listed=False,
    ),
    Command(
        "lick retire", word("Take a lick out of the pool; breaks made with it stay."), lick_retire, (LICK,)
    ),
    Command("lick keep", word("Put a lick into the pool as it is."), lick_keep, (LICK,), organisers=True),
    Command(
        "lick waiting", word("Licks that wait for an organiser."), lick_waiting, private=True, organisers=True
    ),
)
