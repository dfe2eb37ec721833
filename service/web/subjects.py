"""What can be drawn, written and sounded: a lick, a break, a loop, with the words that stand on its sheet."""

from bisect import bisect_right
from collections.abc import Awaitable, Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from service.errors import Conflict, DomainError
from service.music.harmony import Key, key_named
from service.music.scores import Score, Span
from service.music.setting import Setting, capo_for
from service.usecases.breaks import get_break, name_of_break
from service.usecases.house import House
from service.usecases.identify import Caller, reach_group
from service.usecases.licks import get_lick
from service.usecases.made_breaks import Rest
from service.usecases.posting import drawn_in
from service.usecases.records import Rights
from service.usecases.scores import break_passage, break_score, lick_score, loop_score, variation_score
from service.usecases.variations import get_variation
from service.web.options import Drawing
from service.web.rests import hidden_note, rest_note
from service.wording import say


@dataclass(frozen=True, slots=True)
class Shown:
    """``identity`` names exactly what is shown, rests and all; ``name`` is what its files are called."""

    group_id: int
    identity: tuple[object, ...]
    name: str


@dataclass(frozen=True, slots=True)
class Subject(Shown):
    """What has a score of its own. ``remarks`` are sentences about what may not be shown, ``extra`` stands below the title."""

    score: Score
    rights: tuple[tuple[int | None, Rights], ...]
    remarks: tuple[str, ...] = ()
    extra: tuple[str, ...] = ()


Load = Callable[[], Awaitable[Subject]]  # asked only where the file is not there yet


def lick_subject(
    house: House, caller: Caller, group: str, number: int, language: str, tempo: int | None
) -> tuple[Shown, Load]:
    """A lick. Raises NotFound, TakenDown."""
    kept = get_lick(house, caller, group, number)
    shown = Shown(
        reach_group(house, caller, group, "read-group").id, ("lick", number, kept.revision), f"lick-{number}"
    )

    async def load() -> Subject:
        scored = await house.think(lambda: lick_score(kept, tempo))
        level = say("sheet-level", {"level": kept.lick.level}, language)
        return Subject(
            shown.group_id, shown.identity, shown.name, scored.score, scored.rights, extra=(level,)
        )

    return shown, load


def variation_subject(
    house: House, caller: Caller, group: str, number: int, language: str, tempo: int | None
) -> tuple[Shown, Load]:
    """A variation of a challenge. Raises NotFound, TakenDown, Conflict ``no-tab-yet`` while there is only a recording."""
    found = get_variation(house, caller, group, number)
    record, lick = found.record, found.lick
    if record is None or lick is None:
        raise Conflict("no-tab-yet")
    name = f"variation-{number}"
    shown = Shown(
        reach_group(house, caller, group, "read-group").id, ("variation", number, found.row.revision), name
    )

    async def load() -> Subject:
        scored = await house.think(lambda: variation_score(found.row.name, lick, record.rights, tempo))
        level = say("sheet-level", {"level": lick.level}, language)
        return Subject(shown.group_id, shown.identity, name, scored.score, scored.rights, extra=(level,))

    return shown, load


def post_subject(
    house: House, caller: Caller, post: int, language: str, tempo: int | None
) -> tuple[Shown, Load]:
    """The lick or variation that a claimed post is about. Raises NotFound, TakenDown."""
    acting, group, what, number = drawn_in(house, caller, post)
    subject = variation_subject if what == "variation" else lick_subject
    return subject(house, acting, group, number, language, tempo)


def break_subject(
    house: House, caller: Caller, group: str, code: str, language: str, tempo: int | None, hide: int = 0
) -> tuple[Shown, Load]:
    """A break, perhaps with a phrase hidden. Raises NotFound."""
    named = name_of_break(house, caller, group, code)
    shown = Shown(named.group_id, ("break", named.code, named.hidden), f"{named.tune}-{named.code}")

    async def load() -> Subject:
        made = get_break(house, caller, group, code)
        passage = await break_passage(house, made)
        scored = await house.think(lambda: break_score(made, passage, tempo))
        notes = {rest.form[0].number: rest_note(rest, language).text for rest in made.rests}
        score, hidden = _with_notes(scored.score, notes), made.to_hide(hide)
        if hidden is not None:
            score = score.hiding(hidden.form[0].onset, hidden_note(hidden, language))
        return Subject(
            shown.group_id,
            shown.identity,
            shown.name,
            score,
            scored.rights,
            tuple(notes.values()),
            (say("sheet-break", {"code": made.code}, language),),
        )

    return shown, load


def loop_subject(
    house: House, caller: Caller, group: str, code: str, phrase: int, language: str, tempo: int | None
) -> tuple[Shown, Load]:
    """A phrase of a break after the one before it. Raises NotFound."""
    named = name_of_break(house, caller, group, code)
    name = f"{named.tune}-{named.code}-loop-{phrase}"
    shown = Shown(named.group_id, ("loop", named.code, phrase, named.hidden), name)

    async def load() -> Subject:
        made = get_break(house, caller, group, code)
        passage = await break_passage(house, made, phrase)
        scored = await house.think(lambda: loop_score(made, phrase, passage, tempo))
        before, here = made.around(phrase)
        told = {"tune": made.tune.name, "before": before.form[0].number, "phrase": here.form[0].number}
        # measures are counted from the start of the loop
        starts = {
            before.form[0].number: 1,
            here.form[0].number: bisect_right(passage.starts, sum(p.ticks for p in before.form)),
        }
        notes = {
            place.form[0].number: rest_note(place, language, starts[place.form[0].number]).text
            for place in (before, here)
            if isinstance(place, Rest)
        }
        score = replace(_with_notes(scored.score, notes), title=say("sheet-loop", told, language))
        of_break = say("sheet-break", {"code": made.code}, language)
        return Subject(
            shown.group_id, shown.identity, name, score, scored.rights, tuple(notes.values()), (of_break,)
        )

    return shown, load


def _with_notes(score: Score, notes: Mapping[int, str]) -> Score:
    """Rests are labelled by what is said of them, by phrase."""
    spans = tuple(
        Span(span.onset, span.ticks, notes.get(int(span.label), ""), True) if span.rest else span
        for span in score.phrases
    )
    return replace(score, phrases=spans)


def capo_of(score: Score, drawing: Drawing) -> int | None:
    return capo_asked(score.key, drawing.capo, drawing.key)


def capo_asked(position: Key, capo: int | None, key: str | None) -> int | None:
    """The capo that is asked for, by its fret or by the key that shall sound. Raises DomainError ``key-of-other-mode``, ``capo-or-key``."""
    if key is None:
        return capo
    if capo is not None:
        raise DomainError("capo-or-key")
    return capo_for(position, key_named(key))


def behind_capo(score: Score, capo: int | None) -> Score:
    """The same hands with the capo elsewhere, sounding in another key; the fifth string goes along.

    Raises DomainError ``capo-takes-frets``.
    """
    passage = score.passage
    if capo is None or capo == passage.capo:
        return score
    stop = None if passage.stop is None else passage.stop + capo - passage.capo
    moved = replace(passage, capo=capo, stop=stop)
    for note in moved.notes:
        if moved.fretboard.refuses(note.string, note.fret):
            raise DomainError("capo-takes-frets", capo=capo, fret=note.fret, string=note.string)
    return replace(score, passage=moved)


def set_up(setting: Setting, language: str) -> tuple[str, ...]:
    """Key, instrument, tuning, position, capo, fifth string: what a player sets up by."""
    told = [
        say("sheet-key", {"key": setting.sounding.name}, language),
        say(
            "sheet-instrument",
            {"instrument": setting.instrument.name, "tuning": setting.tuning.name},
            language,
        ),
    ]
    if setting.capo:
        told.append(say("sheet-position", {"key": setting.position.name}, language))
        told.append(say("sheet-capo", {"fret": setting.capo}, language))
    if setting.stop_fret is not None:
        code = "sheet-stop" if setting.stop_fret else "sheet-stop-open"
        told.append(say(code, {"fret": setting.stop_fret}, language))
    return tuple(told)


def credits(rights: Sequence[tuple[int | None, Rights]], language: str) -> tuple[str, ...]:
    """Where the tune and its licks come from, and what may be done with them."""
    found: list[str] = []
    for number, right in rights:
        if number == 0:
            told = {"credit": right.credit or right.source or "", "source": right.source or ""}
            known = right.origin == "traditional" or told["credit" if right.origin == "own" else "source"]
            if known:
                found.append(say(f"credit-tune-{right.origin}", told, language))
        elif right.origin == "adapted" and right.source:
            code = "credit-adapted" if number is None else "credit-lick-adapted"
            found.append(say(code, {"lick": number, "source": right.source}, language))
    names = dict.fromkeys(right.credit for number, right in rights if number != 0 and right.credit)
    licences = dict.fromkeys(right.licence for _, right in rights if right.licence)
    if names:
        found.append(say("credit-licks", {"credits": ", ".join(names)}, language))
    if licences:
        found.append(say("credit-licences", {"licences": ", ".join(licences)}, language))
    return (*found, say("credit-caution", {}, language))
