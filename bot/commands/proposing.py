"""Licks proposed for a phrase of a tune, which the pool does not have; organisers put them there."""

from dataclasses import replace

from bot.api import arrangements, tunes
from bot.asks import Ask
from bot.book import Command, Option
from bot.commands.licks import figures, given_phrase, reasons, shown_lick
from bot.commands.phrases import menus, of_tune
from bot.commands.terms import INSTRUMENT, PHRASE, TUNE
from bot.replies import SEPARATOR, Answer, Button, Call, Reply
from bot.wording import word


async def lick_propose(
    ask: Ask, tune: str, phrase: int, instrument: str | None = None, key: str | None = None
) -> Answer:
    """One proposal as text, the best unless one is named, and the others to choose from."""
    of = await tunes.one_tune(ask.here, tune)
    found = (await arrangements.proposals(ask.here, tune, phrase, instrument)).items
    this = given_phrase(tune, phrase, instrument)
    place = dict(of_tune(ask.say, of)).get(phrase, str(phrase))
    if not found:
        return Reply(
            head=ask.say(
                "There is nothing to propose for phrase {place} of {tune}. Send a lick in with: lick send.",
                place=place,
                tune=of.name,
            ),
            failed=True,
            buttons=((Button(ask.say("Send a lick"), Call("lick send", this)),),),
        )
    at = next((at for at, one in enumerate(found) if one.key == key), 0)
    one = found[at]
    row = []
    if ask.organises:
        row.append(
            Button(ask.say("Into the pool"), Call("lick propose-keep", {**this, "key": one.key}), "good")
        )
    if len(found) > 1:
        following = found[(at + 1) % len(found)]
        row.append(Button(ask.say("Next"), Call("lick propose", {**this, "key": following.key})))
    choices = [
        (other.name, {**this, "key": other.key}, figures(ask, other)) for other in found if other is not one
    ]
    return Reply(
        head=SEPARATOR.join([of.name, ask.say("proposals for phrase {place}", place=place)]),
        tab=one.tab.strip("\n"),
        notes=(
            ask.say("Proposal {number} of {count}, not in the pool.", number=at + 1, count=len(found)),
            f"{one.name}: {figures(ask, one)}.",
            one.how.text,
            *reasons(one.reasons),
            *(() if ask.organises else (ask.say("An organiser can keep it."),)),
        ),
        buttons=(tuple(row),) if row else (),
        menus=menus(ask.say("Another proposal"), choices, "lick propose"),
        private=True,
    )  # fmt: skip


async def lick_propose_keep(
    ask: Ask, tune: str, phrase: int, key: str, instrument: str | None = None
) -> Answer:
    """The lick that a proposal has become."""
    kept = await arrangements.keep_proposal(ask.here.again("keep"), tune, phrase, key, instrument)
    reply = await shown_lick(ask, kept)
    return replace(reply, notes=(ask.say("It is in the pool."), *reply.notes))


_KEY = Option("key", "text", word("Which proposal."), "k", hidden=True, most=40)
_PHRASE = replace(PHRASE, required=True)

COMMANDS = (
    Command(
        "lick propose",
        word("Licks the pool has not, proposed for a phrase of a tune."),
        lick_propose,
        (TUNE, _PHRASE, INSTRUMENT, _KEY),
        private=True,
    ),
    Command(
        "lick propose-keep",
        word("A proposed lick, kept in the pool."),
        lick_propose_keep,
        (TUNE, _PHRASE, replace(_KEY, required=True), INSTRUMENT),
        listed=False,
        organisers=True,
    ),
)
