"""From a score to everything that sounds with it: the lead, a band over its chords, rounds and tempos."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from service.errors import DomainError
from service.music.bands import band_over
from service.music.breaks import end_to_end
from service.music.frames import ending, kick_off
from service.music.licks import Change
from service.music.passages import Passage
from service.music.scores import Score
from service.music.setting import Setting
from service.music.timeline import Part, Plan, usual_count_in

LEAD, BAND = "lead", "band"  # names to mute by; further ones are the instruments of the band


@dataclass(frozen=True, slots=True)
class Wanted:
    """``rounds`` are the tempos of the rounds, in the score's own beats. ``muted`` names the lead, the whole band or its
    instruments. ``frame`` adds a kick-off and an ending. ``count_in`` is in measures; None means the usual one."""

    rounds: tuple[int, ...]
    muted: frozenset[str] = frozenset()
    click: bool = False
    count_in: int | None = None
    swing: float = 0.0
    stereo: bool = False
    frame: bool = False


def setting_of_score(score: Score) -> Setting:
    """How the score's instrument is set up."""
    passage = score.passage
    short = passage.instrument.short_string
    stop = None if short is None else passage.fretboard.pitch(short[0], 0)
    return Setting(passage.instrument, passage.tuning, score.key, passage.capo, stop)


def plan_of(score: Score, wanted: Wanted) -> Plan:
    """What sounds, and when. Raises DomainError ``no-such-player``, and what the timeline refuses."""
    passage, setting = score.passage, setting_of_score(score)
    parts = [Part(LEAD, passage, score.melody, lead=True)]
    if passage.changes:
        behind = band_over(passage.changes, passage.measures, passage.meter, setting)
        parts.extend(Part(member.instrument.id, member) for _, member in behind)
    members = frozenset(part.name for part in parts[1:])
    muted = wanted.muted - {BAND} | (members if BAND in wanted.muted else frozenset())
    names = [part.name for part in parts]
    for name in sorted(muted - set(names)):
        raise DomainError("no-such-player", name=name, known=", ".join((*names, BAND)))
    if muted == set(names) and not wanted.click:
        raise DomainError("nothing-to-play")
    rounds = wanted.rounds
    if wanted.frame:
        parts = _framed(parts, score, setting, len(rounds))
        rounds = rounds[:1]
    usual = usual_count_in(passage.meter)
    return Plan(
        tuple(parts),
        passage.meter,
        score.beat.ticks,
        rounds,
        count_in=usual if wanted.count_in is None else wanted.count_in,
        click=wanted.click,
        muted=muted,
        swing=wanted.swing,
        stereo=wanted.stereo,
    )


def _framed(parts: Sequence[Part], score: Score, setting: Setting, rounds: int) -> list[Part]:
    """All rounds written out, the lead's kick-off before and its ending after them, where the band is silent."""
    before, after = kick_off(setting, score.passage.meter), ending(setting, score.passage.meter)
    found = []
    for part in parts:
        whole = part.passage
        for _ in range(rounds - 1):
            whole = end_to_end(whole, part.passage)
        own_before, own_after = (
            (before, after) if part.lead else (_silent(before, whole), _silent(after, whole))
        )
        framed = end_to_end(end_to_end(own_before, whole), own_after)
        start, once = before.ticks, part.passage.ticks
        melody = frozenset(start + n * once + onset for n in range(rounds) for onset in part.melody)
        found.append(replace(part, passage=framed, melody=melody))
    return found


def _silent(like: Passage, of: Passage) -> Passage:
    """As many measures with nothing in them for another player."""
    return replace(of, measures=like.measures, notes=(), changes=(Change(0, None),))
