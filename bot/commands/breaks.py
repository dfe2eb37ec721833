"""Breaks: a fresh one on request, the best there are, one lick changed for another."""

from collections.abc import Awaitable, Callable
from dataclasses import dataclass

from bot.api import Client, Refused, Unreachable
from bot.replies import SEPARATOR, Reply
from schemas.breaks import BestIn, BreakOut, BreakPhraseOut, Filters, RandomIn, SettingOut

TUNINGS_BY_HEART = {
    "open-g": "open G",
    "c": "C",
    "double-c": "double C",
    "open-d": "open D",
    "drop-d": "drop D",
}


@dataclass(frozen=True, slots=True)
class Page:
    """How a tab is laid out."""

    layout: str = "phone"
    width: int = 28


Made = Callable[[], Awaitable[tuple[BreakOut, str | None]]]  # a break, and how many there are as asked


async def random_break(client: Client, group: str, tune: str, wish: RandomIn, page: Page) -> Reply:
    """A fresh break of a tune as tab: what a player needs first, the tab, then the rest."""

    async def made() -> tuple[BreakOut, str | None]:
        return await client.random_break(group, tune, wish), await _filtered_total(client, group, tune, wish)

    return await _shown(client, group, page, made)


async def best_break(client: Client, group: str, tune: str, wish: BestIn, page: Page) -> Reply:
    """The smoothest or easiest break, or the one closest to the tune."""

    async def made() -> tuple[BreakOut, str | None]:
        return (await client.best_breaks(group, tune, wish)).items[0], None

    return await _shown(client, group, page, made)


async def numbered_break(
    client: Client, group: str, tune: str, number: str, wish: Filters, page: Page
) -> Reply:
    """Number k of all breaks that the pool makes now."""

    async def made() -> tuple[BreakOut, str | None]:
        now = await client.count(group, tune, Filters(instrument=wish.instrument, tuning=wish.tuning))
        return await client.numbered(group, tune, number, now.snapshot, wish.instrument), None

    return await _shown(client, group, page, made)


async def swapped_break(client: Client, group: str, code: str, phrase: int | None, page: Page) -> Reply:
    """A break with the lick at one phrase changed for the one that suits best; without a phrase its rest, where a lick was
    taken down, or else the last one, its tag."""

    async def made() -> tuple[BreakOut, str | None]:
        before = await client.one_break(group, code)
        rests = [place.phrase for place in before.phrases if place.lick is None]
        at = [*rests, before.phrases[-1].phrase][0] if phrase is None else phrase
        alternatives = (await client.swaps(group, code, at)).items
        if not alternatives:
            return before, None
        return await client.swap(group, code, at, alternatives[0].number), None

    return await _shown(client, group, page, made)


async def _shown(client: Client, group: str, page: Page, made: Made) -> Reply:
    try:
        found, filtered = await made()
        tab = await client.tab(group, found.code, page.layout, page.width)
    except Refused as refused:
        problem = refused.problem
        first = [
            next((place.text for place in problem.at if place.code == code), "")
            for code in ("empties", "met-by-none", "would-give")  # why, and what would help
        ]
        return Reply(head=" ".join([problem.detail, *filter(None, first)]), failed=True)
    except Unreachable:
        return Reply(head="The service does not answer just now. Try again in a minute.", failed=True)
    return Reply(head=headline(found), tab=tab, notes=_notes(found, filtered), code=found.code)


async def _filtered_total(client: Client, group: str, tune: str, wish: RandomIn) -> str | None:
    """How many breaks the wish leaves; None if it narrows nothing, or if only drawing could tell."""
    asked = {name: getattr(wish, name) for name in Filters.__struct_fields__}
    bare = Filters(instrument=wish.instrument, tuning=wish.tuning, settled=wish.settled, favour=wish.favour)
    filters = Filters(**asked)
    return None if filters == bare else (await client.count(group, tune, filters)).total


def headline(made: BreakOut) -> str:
    """Tune, key, position, capo, fifth string, tempo: what a player sets up by."""
    return SEPARATOR.join(
        [
            made.tune_name,
            f"key of {made.setting.sounding}",
            *set_up(made.setting),
            f"{made.tempo.unit} = {made.tempo.bpm}",
        ]
    )


def set_up(setting: SettingOut) -> list[str]:
    parts = [
        f"{setting.instrument} in {TUNINGS_BY_HEART.get(setting.tuning, setting.tuning)}",
        f"{setting.position} position",
        f"capo {setting.capo}" if setting.capo else "no capo",
    ]
    if setting.stop_fret is not None:
        parts.append(f"fifth string at {setting.stop_fret}" if setting.stop_fret else "fifth string open")
    return parts


def grouped(number: str) -> str:
    """``48214`` as ``48,214``."""
    return f"{int(number):,}"


def _notes(made: BreakOut, filtered: str | None) -> tuple[str, ...]:
    at = f"{made.tempo.unit} = {made.tempo.bpm}"
    notes = [
        f"Number {grouped(made.number)} of {grouped(made.total)}, code {made.code}, level {made.level} at {at}."
    ]
    if filtered is not None:
        notes.append(f"{grouped(filtered)} of them are as you asked.")
    notes.append(_in_all(made))
    joins = {join.phrase: join for join in made.joins}
    for place in made.phrases:
        notes.append(_of_place(place))
        join = joins.get(place.phrase + place.phrases)
        if join is not None:
            said = " ".join(
                f"{reason.text} {reason.advice}" if reason.advice else reason.text for reason in join.reasons
            )
            notes.append(f"  Into {join.phrase}: {said}")
    return tuple(notes)


def _in_all(made: BreakOut) -> str:
    """Top tempo, fit and melody of the whole."""
    said = []
    if made.top is not None:
        said.append(f"Comfortable up to {made.top.unit} = {made.top.bpm}.")
    judged = [place.judgement.fit.share for place in made.phrases if place.judgement is not None]
    fits = [share for share in judged if share is not None]
    if fits:
        said.append(f"It fits its chords {percent(sum(fits) / len(fits))}.")
    if made.melody is not None:
        said.append(f"It recalls {percent(made.melody)} of the melody.")
    return " ".join(said)


def _of_place(place: BreakPhraseOut) -> str:
    """A lick in its place, or why there is a rest."""
    judged = place.judgement
    if place.lick is None or judged is None:
        return f"{place.phrase} {place.note.text if place.note else 'A rest.'}"
    parts = [f"level {judged.level}"]
    if judged.fit.share is not None:
        parts.insert(0, f"fits {percent(judged.fit.share)}")
    if judged.melody is not None:
        parts.append(f"recalls {percent(judged.melody.share)}")
    if any(reason.code == "free-of-the-melody" for reason in judged.reasons):
        parts.append("free")
    return f"{place.phrase} {place.lick.name} ({place.lick.number}): {', '.join(parts)}."


def percent(share: float) -> str:
    return f"{round(100 * share)}\N{NO-BREAK SPACE}%"
