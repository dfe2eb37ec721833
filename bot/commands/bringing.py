"""Tunes out of files, and tunes as files to take along."""

import re
from dataclasses import replace

from bot.api import tunes
from bot.api.client import Refused
from bot.asks import Ask
from bot.book import Command, Option, Sent
from bot.commands.arranging import MOST_NAME, MOST_SAID, NAME, tune_slug, with_plain_break
from bot.commands.marking import told_places
from bot.commands.phrases import short
from bot.commands.terms import TUNE
from bot.replies import SEPARATOR, Answer, File, Reply
from bot.trouble import Unusable
from bot.wording import word
from schemas.tunes import RightsIn, TuneIn, TuneNotReadOut, TuneProposalOut, TuneProposals

MOST_FILE = 2 << 20  # bytes of a file with tunes; the service takes that much
FILES = {
    "abc": "abc",
    "musicxml": "musicxml",
    "midi": "mid",
}  # kinds of files that a tune is written as, by their suffix
TUNE_FILE = "file"
MOST_OTHERS = 12  # numbers of tunes that are named; ours
TAKEN = "exists"  # the problem of a name that another tune has
MOST_SLIPS = 3  # tunes of a book that cannot be read, with the reason; ours
OTHER_TRACKS = "tune-tracks"  # the remark that names the tracks of a MIDI file


async def tune_bring(
    ask: Ask, file: Sent, which: int | None = None, name: str | None = None, track: int | None = None
) -> Answer:
    """A tune out of a file; of a book of tunes the one that is asked for, else the first that can be read."""
    if file.size > MOST_FILE:
        raise Unusable(
            ask.say(
                "That file is too large: {most} MiB is the most. Send one tune of it.", most=MOST_FILE >> 20
            )
        )
    try:
        found = await tunes.read(ask.here, await file.read(), track)
    except Refused as refused:
        problem = refused.problem
        if problem.status >= 500 or not problem.at:
            raise
        return Reply(head=problem.detail, notes=told_places(ask, problem.at), failed=True)
    one = next((one for one in found.items if which in (None, one.number)), None)
    if one is None:
        slip = next((one for one in found.not_read if one.number == which), None)
        if slip is None:
            raise Unusable(
                ask.say(
                    "The file has {count} tunes: give one of these numbers as which.", count=_count(found)
                )
            )
        return Reply(
            head=ask.say("{tune} cannot be read.", tune=_place(ask, slip)),
            notes=told_places(ask, slip.at),
            failed=True,
        )
    called = (name or one.name or _of_file_name(file.name) or ask.say("A tune"))[:MOST_NAME]
    sent = TuneIn(
        slug=tune_slug(called),
        name=called,
        key=one.key,
        meter=one.meter,
        tempo=one.tempo,
        chart=one.chart,
        melody=one.melody or None,
        rights=RightsIn(origin="traditional", source=one.source[:200] or None),
    )
    try:
        made = await tunes.add(ask.here.again("tune"), sent)
    except Refused as refused:
        if refused.problem.code != TAKEN:
            raise
        raise Unusable(
            ask.say(
                "There is a tune called {name} already. Send the file again with another name.", name=called
            )
        ) from refused
    reply = await with_plain_break(ask, made)
    return replace(
        reply,
        notes=(reply.notes[0], *_of_file(ask, one, found), *reply.notes[1:]) if reply.notes else (),
    )


def _of_file_name(name: str) -> str:
    """``fen_gate.mid`` as a tune's name."""
    return re.sub(r"[\W_]+", " ", name.rpartition(".")[0] or name).strip().capitalize()


def _count(found: TuneProposals) -> int:
    return len(found.items) + len(found.not_read)


def _place(ask: Ask, one: TuneNotReadOut) -> str:
    """``Tune 2 (Slip)``."""
    if one.name:
        return ask.say("Tune {number} ({name})", number=one.number, name=short(one.name))
    return ask.say("Tune {number}", number=one.number)


def _of_file(ask: Ask, one: TuneProposalOut, found: TuneProposals) -> list[str]:
    """What to look at before it is played: what could not be read beside it, chords that were named from the melody, and what was
    read by inference."""
    notes, count = [], _count(found)
    if count > 1:
        numbers = [str(other.number) for other in found.items if other is not one][:MOST_OTHERS]
        notes.append(ask.say("The file has {count} tunes.", count=count))
        if numbers:
            notes.append(ask.say("Another one by its number, as which: {others}.", others=", ".join(numbers)))
    for slip in found.not_read[:MOST_SLIPS]:
        told = told_places(ask, slip.at[:1])
        notes.append(" ".join([ask.say("{tune} cannot be read.", tune=_place(ask, slip)), *told]))
    if len(found.not_read) > MOST_SLIPS:
        notes.append(
            ask.say("More tunes that cannot be read: {count}.", count=len(found.not_read) - MOST_SLIPS)
        )
    if one.chords_proposed:
        others = ", ".join(
            f"{two.part} {two.measure}: {two.proposed} / {two.other}" for two in one.unsure[:MOST_SAID]
        )
        notes.append(ask.say("The chords are proposed from the melody. Mend what you hear otherwise."))
        if others:
            notes.append(ask.say("Least sure (part, measure: chord / or): {others}", others=others))
    for remark in one.remarks[:MOST_SAID]:
        notes.append(remark.text)
        if remark.code == OTHER_TRACKS:
            notes.append(ask.say("Another track by its number: track=2."))
    return notes


async def tune_take(ask: Ask, tune: str, kind: str = "abc") -> Answer:
    """A tune as a file to take along."""
    found = await tunes.one_tune(ask.here, tune)
    sent = await ask.here.file(f"/tunes/{found.slug}/files/{FILES[kind]}")
    head = SEPARATOR.join([found.name, kind])
    return Reply(head=head, files=(File(TUNE_FILE, sent.name, sent.data, head),))


_KIND = Option(
    "kind",
    "choice",
    word("What kind of file: ABC notation unless you say another."),
    "a",
    choices=tuple(FILES),
)

COMMANDS = (
    Command(
        "tune bring",
        word("A tune out of a file: ABC, MusicXML or MIDI."),
        tune_bring,
        (
            Option("file", "file", word("The file, up to 2 MiB."), "f", required=True),
            Option("which", "whole", word("Of several tunes in it, which."), "w", least=1, most=200),
            replace(NAME, required=False),
            Option("track", "whole", word("Of a MIDI file another track, by its number."), "t", least=1),
        ),
        organisers=True,
    ),
    Command("tune take", word("A tune as a file to take along."), tune_take, (TUNE, _KIND)),
)
