"""Variations of the week's challenge: sent in, seen, heard, voted for, mended, reviewed."""

from dataclasses import replace

from bot.api import challenges, variations
from bot.api.client import Refused, Unreachable
from bot.asks import Ask
from bot.book import Command, Option, Sent
from bot.commands.asking_twice import SURE, ask_twice
from bot.commands.challenges import CHALLENGE
from bot.commands.marking import fields_of, marked, to_mend, unmarked
from bot.commands.pictures import SOUND, sound, with_picture
from bot.commands.terms import INSTRUMENT
from bot.replies import SEPARATOR, Answer, Blank, Button, Call, File, Form, Reply
from bot.trouble import Unusable
from bot.wording import word
from schemas.base import Sentence
from schemas.challenges import VariationIn, VariationOut, VariationReviewIn
from schemas.tunes import RightsIn

MOST_RECORDING = 8 << 20  # bytes; chats and the service take that much
SOUND_SUFFIXES = ("mp3", "m4a", "mp4", "ogg", "oga", "opus", "webm", "flac", "wav", "aac", "amr")
MOST_REASONS = 4  # to mend, told at once; ours
DECISIONS = ("accept", "refuse", "pool")
FIELDS = ("name", "comment", "source")  # what is typed besides the text


# --- sending in -----------------------------------------------------------------------------------------------


async def send(ask: Ask, **about: object) -> Answer:
    """The form to type a variation into."""
    return _form(ask, ask.say("Your variation"), about, "", {})


async def mend_typed(ask: Ask, **about: object) -> Answer:
    """The form once more, filled with what the message shows whose button was pressed."""
    shown = ask.visitor.shown
    return _form(ask, ask.say("Mend your variation"), about, unmarked(shown), fields_of(shown))


def _form(
    ask: Ask, title: str, about: dict[str, object], text: str, typed: dict[str, str], *, alone: bool = False
) -> Form:
    """``about``: the challenge, instrument or variation that it is for."""
    blanks = [
        Blank(
            "text", ask.say("Tab, or one line"), long=True, value=text,
            hint=ask.say("Like 4 - 2 3 5 1 2 1, or six lines of tab. A comma ends a measure, - holds."),
        ),
        Blank("name", ask.say("What you call it"), required=False, value=typed.get("name", ""), most=120),
        Blank("comment", ask.say("A few words"), required=False, value=typed.get("comment", ""), most=500),
        Blank(
            "source", ask.say("Adapted from"), required=False, value=typed.get("source", ""), most=200,
            hint=ask.say("Only if it is not your own: whose, or from where. Share what you may share."),
        ),
    ]  # fmt: skip
    return Form(title, Call("variation enter", _given(about)), tuple(blanks[:1] if alone else blanks))


def _given(about: dict[str, object]) -> dict[str, str]:
    return {name: str(value) for name, value in about.items() if value is not None}


async def enter(
    ask: Ask,
    text: str,
    name: str = "",
    comment: str = "",
    source: str = "",
    challenge: int | None = None,
    instrument: str | None = None,
    variation: int | None = None,
) -> Answer:
    """What was typed is sent in; or takes the place of a variation, or writes a recording down."""
    rights = RightsIn(origin="adapted", source=source) if source else RightsIn()
    sent = VariationIn(text=text, name=name or None, comment=comment, instrument=instrument, rights=rights)
    typed = dict(zip(FIELDS, (name, comment, source), strict=True))
    about: dict[str, object] = {"challenge": challenge, "instrument": instrument, "variation": variation}
    try:
        if variation is not None:
            made = await variations.revise(ask.here, variation, sent)
        else:
            number = challenge or (await challenges.current(ask.here)).number
            made = await variations.enter(ask.here.again("enter"), number, sent)
    except (Refused, Unreachable, TimeoutError) as error:
        if isinstance(error, Refused) and error.problem.code == "not-yours":
            about["variation"] = None  # it can be sent in beside it
        return to_mend(ask, error, text, typed, Call("variation again", _given(about)))
    if made.state == "held":
        return _held(ask, made, text, typed)
    return await shown_variation(ask, made, ask.say("It is in. The others can see, hear and vote now."))


def _held(ask: Ask, made: VariationOut, text: str, typed: dict[str, str]) -> Reply:
    """For its author alone: what to mend, with what was typed at hand."""
    this = {"variation": str(made.number)}
    return Reply(
        head=ask.say("“{name}” waits: mend it, or ask an organiser to accept it.", name=made.name),
        tab=marked(text, (), typed),
        notes=_reasons(made.reasons),
        private=True,
        buttons=(
            (
                Button(ask.say("Mend it"), Call("variation again", this), "main"),
                Button(ask.say("See it"), Call("variation show", this)),
                Button(ask.say("Withdraw"), Call("variation withdraw", this), "grave"),
            ),
        ),
    )


def _reasons(reasons: list[Sentence]) -> tuple[str, ...]:
    """Those with something to do about them first."""
    first = sorted(reasons, key=lambda reason: reason.advice is None)[:MOST_REASONS]
    return tuple(f"{reason.text} {reason.advice}" if reason.advice else reason.text for reason in first)


async def record(
    ask: Ask, file: Sent, name: str = "", comment: str = "", challenge: int | None = None
) -> Answer:
    """A sound, sent in as it was played."""
    kind = file.kind.partition(";")[0].strip().lower()
    if not kind.startswith("audio/") and file.name.rpartition(".")[2].lower() not in SOUND_SUFFIXES:
        raise Unusable(
            ask.say("“{name}” is no sound: send MP3, M4A, Ogg, WebM, FLAC, WAV, AAC or AMR.", name=file.name)
        )
    if file.size > MOST_RECORDING:
        raise Unusable(
            ask.say(
                "That recording has {size} MiB, and {most} is the most: send a shorter one, or an MP3.",
                size=round(file.size / (1 << 20), 1),
                most=MOST_RECORDING >> 20,
            )
        )
    number = challenge or (await challenges.current(ask.here)).number
    made = await variations.enter_recording(
        ask.here.again("record"),
        number,
        await file.read(),
        kind or "application/octet-stream",
        name or None,
        comment,
    )
    return await shown_variation(ask, made, ask.say("It is in. The others can hear it and vote now."))


async def write_down(ask: Ask, variation: int) -> Answer:
    """The form for the tab of a recording."""
    return _form(ask, ask.say("The tab of a recording"), {"variation": variation}, "", {}, alone=True)


# --- seeing and hearing -----------------------------------------------------------------------------------------


async def show(ask: Ask, variation: int) -> Answer:
    return await shown_variation(ask, await variations.one_variation(ask.here, variation))


async def shown_variation(ask: Ask, found: VariationOut, *first: str) -> Reply:
    """Its picture, who sent it, votes; ``first`` are notes that come before."""
    by = found.by_name or ask.say("somebody")
    head = [ask.say("Variation {number}: {name}, by {by}", number=found.number, name=found.name, by=by)]
    if found.votes is not None:
        head.append(ask.say("votes: {count}", count=found.votes))
    reply = Reply(
        head=SEPARATOR.join(head),
        notes=(*first, *_what_it_is(ask, found)),
        buttons=_next(ask, found),
        private=found.state != "entered",
    )
    if found.tab is None:
        return reply
    return await with_picture(ask, reply, f"/variations/{found.number}")


def _what_it_is(ask: Ask, found: VariationOut) -> list[str]:
    notes = [found.comment] if found.comment else []
    if found.level is not None and found.top is not None:
        notes.append(
            ask.say(
                "Level {level}, comfortable up to {unit} = {bpm}.",
                level=found.level,
                unit=ask.say(found.top.unit),
                bpm=found.top.bpm,
            )
        )
    if found.recording and found.tab is None:
        notes.append(ask.say("There is a recording, and no tab yet: anybody may write it down."))
    elif found.recording:
        notes.append(ask.say("There is a recording of it."))
    if found.state == "held":
        notes.append(ask.say("It waits: its author mends it, or an organiser accepts it."))
        notes += _reasons(found.reasons)
    if found.state == "refused":
        notes.append(ask.say("It was refused. {reason}", reason=found.reason or "").strip())
    if found.lick is not None:
        notes.append(ask.say("It is in the pool, as lick {number}.", number=found.lick))
    return notes


def _next(ask: Ask, found: VariationOut) -> tuple[tuple[Button, ...], ...]:
    this = {"variation": str(found.number)}

    def button(label: str, command: str, look: str = "plain", **more: str) -> Button:
        return Button(label, Call(command, {**this, **more}), look)  # type: ignore[arg-type]

    first, own, organisers = [], [], []
    if found.state == "entered":  # for whoever sees it: nobody's vote for their own is taken
        first.append(button(ask.say("Vote"), "variation vote", "good"))
    first.append(button(ask.say("Sound"), "variation sound"))
    if found.tab is None:
        first.append(button(ask.say("Write it down"), "variation write-down"))
    first.append(Button(ask.say("The challenge"), Call("challenge now", {"challenge": str(found.challenge)})))
    if found.mine and found.state in ("entered", "held"):
        own.append(button(ask.say("Mend"), "variation mend"))
        own.append(button(ask.say("Withdraw"), "variation withdraw", "grave"))
    if ask.organises and found.state in ("entered", "held"):
        if found.state == "held":
            organisers.append(button(ask.say("Accept"), "variation review", "good", decision="accept"))
        if found.tab is not None and found.lick is None:
            organisers.append(button(ask.say("Into the pool"), "variation review", decision="pool"))
        organisers.append(button(ask.say("Refuse"), "variation refusing", "grave"))
    return tuple(tuple(row) for row in (first, own, organisers) if row)


async def hear(ask: Ask, variation: int, notes: bool = False) -> Answer:
    """The recording as it came; else, or with ``notes``, what is written."""
    found = await variations.one_variation(ask.here, variation)
    head = ask.say("Variation {number}: {name}", number=found.number, name=found.name)
    if found.recording and not notes:
        sent = await ask.here.file(f"/variations/{variation}/recording")
        again = Call("variation sound", {"variation": str(variation), "notes": "yes"})
        return Reply(
            head=head,
            notes=(ask.say("It is as loud as it was recorded: begin quietly."),),
            files=(File(SOUND, sent.name, sent.data, head),),
            buttons=() if found.tab is None else ((Button(ask.say("As it is written"), again),),),
        )
    files, told = await sound(ask, f"/variations/{variation}", "break")
    tempo = told.tempos[0].bpm if told.tempos else 0
    at = ask.say("{unit} = {bpm}", unit=ask.say(told.unit), bpm=tempo)
    this = {"variation": str(variation)}
    buttons = [Button(ask.say("See it"), Call("variation show", this))]
    if found.state == "entered":
        buttons.insert(0, Button(ask.say("Vote"), Call("variation vote", this), "good"))
    head = SEPARATOR.join([head, at])
    return Reply(
        head=head,
        notes=tuple(told.cautions),
        files=tuple(replace(file, description=head) for file in files),
        buttons=(tuple(buttons),),
    )


# --- votes, mending, taking back, reviewing -----------------------------------------------------------------


async def vote(ask: Ask, variation: int) -> Answer:
    found = await variations.vote(ask.here, variation)
    back = Button(ask.say("Take it back"), Call("variation unvote", {"variation": str(variation)}))
    return Reply(head=ask.say("Your vote is in: {name}.", name=found.name), buttons=((back,),), private=True)


async def unvote(ask: Ask, variation: int) -> Answer:
    await variations.take_vote_back(ask.here, variation)
    found = await variations.one_variation(ask.here, variation)
    again = Button(ask.say("Vote for it"), Call("variation vote", {"variation": str(variation)}))
    return Reply(
        head=ask.say("Your vote is taken back: {name}.", name=found.name), buttons=((again,),), private=True
    )


async def mend(ask: Ask, variation: int) -> Answer:
    """What was sent, shown as text, so that the form can be filled with it."""
    found = await variations.one_variation(ask.here, variation)
    if not found.mine:
        text = ask.say(
            "Variation {number} is somebody else's. Send one of your own: variation send.", number=variation
        )
        raise Unusable(text)
    this = Call("variation again", {"variation": str(variation)})
    source = found.rights.source if found.rights is not None else None
    typed = {"name": found.name, "comment": found.comment, "source": source or ""}
    return Reply(
        head=ask.say("Variation {number}, as you sent it. Change what you like.", number=variation),
        tab=marked(found.line or (found.tab or "").rstrip("\n"), (), typed),
        notes=(ask.say("With other notes it begins without votes."),),
        buttons=((Button(ask.say("Mend it"), this, "main"),),),
        private=True,
    )


async def withdraw(ask: Ask, variation: int, sure: bool = False) -> Answer:
    found = await variations.one_variation(ask.here, variation)
    if not sure:
        return ask_twice(
            ask,
            ask.say("Take variation {number}, {name}, back?", number=variation, name=found.name),
            ask.say("Withdraw"),
            Call("variation withdraw", {"variation": str(variation)}),
            ask.say("It leaves the challenge, and its votes go with it."),
        )
    await variations.withdraw(ask.here, variation)
    return Reply(head=ask.say("Variation {number}, {name}, is withdrawn.", number=variation, name=found.name))


async def review(ask: Ask, variation: int, decision: str, reason: str = "") -> Answer:
    found = await variations.review(
        ask.here,
        variation,
        VariationReviewIn(decision=decision, reason=reason),  # type: ignore[arg-type]
    )
    said = {
        "accept": ask.say("It is in the challenge now."),
        "refuse": ask.say("It is refused; its author can read why."),
        "pool": ask.say("It is in the pool now."),
    }
    return await shown_variation(ask, found, said[decision])


async def refusing(ask: Ask, variation: int) -> Answer:
    """The form for why one is refused."""
    call = Call("variation review", {"variation": str(variation), "decision": "refuse"})
    reason = Blank("reason", ask.say("Why; its author reads it"), long=True, required=False, most=500)
    return Form(ask.say("Refuse variation {number}", number=variation), call, (reason,))


VARIATION = Option("variation", "variation", word("Which variation, by number or name."), "v", required=True)
_THIS_WEEKS = Option("challenge", "whole", word("Another challenge than the open one."), "c", least=1)
_NAME = Option("name", "text", word("What you call it."), "n", most=120)
_COMMENT = Option("comment", "text", word("A few words about it."), "e", most=500)
_ABOUT = (CHALLENGE, INSTRUMENT, Option("variation", "variation", word("One that is there already."), "v"))

COMMANDS = (
    Command(
        "variation send",
        word("Send your variation in, as tab or in one line."),
        send,
        (_THIS_WEEKS, INSTRUMENT),
        form=True,
    ),
    Command(
        "variation again",
        word("Mend what you typed."),
        mend_typed,
        _ABOUT,
        form=True,
        listed=False,
        private=True,
    ),
    Command(
        "variation enter",
        word("Send in what was typed."),
        enter,
        (
            Option("text", "text", word("Tab, or one line."), "t", required=True),
            _NAME,
            _COMMENT,
            Option("source", "text", word("Where it is adapted from."), "s", most=200),
            *_ABOUT,
        ),
        listed=False,
        private=True,
    ),
    Command(
        "variation record",
        word("Send your variation in as you play it."),
        record,
        (
            Option("file", "file", word("A recording, up to 8 MiB."), "f", required=True),
            _NAME,
            _COMMENT,
            _THIS_WEEKS,
        ),
        private=True,
    ),
    Command(
        "variation write-down",
        word("Write the tab of a recording down."),
        write_down,
        (VARIATION,),
        form=True,
    ),
    Command("variation show", word("See a variation."), show, (VARIATION,)),
    Command(
        "variation sound",
        word("Hear a variation."),
        hear,
        (VARIATION, Option("notes", "yes", word("As it is written, though there is a recording."), "n")),
    ),
    Command("variation vote", word("Vote for a variation."), vote, (VARIATION,), private=True),
    Command("variation unvote", word("Take your vote back."), unvote, (VARIATION,), private=True),
    Command("variation mend", word("Send another version of your own."), mend, (VARIATION,), private=True),
    Command(
        "variation withdraw", word("Take your own variation back."), withdraw, (VARIATION, SURE), private=True
    ),
    Command(
        "variation review",
        word("Accept a variation that waits, refuse one, or take one into the pool."),
        review,
        (
            VARIATION,
            Option("decision", "choice", word("What becomes of it."), "d", required=True, choices=DECISIONS),
            Option("reason", "text", word("Why; its author reads it."), "r", most=500),
        ),
        private=True,
        organisers=True,
    ),
    Command(
        "variation refusing",
        word("Say why one is refused."),
        refusing,
        (VARIATION,),
        form=True,
        listed=False,
        organisers=True,
    ),
)
