"""What is judged of a lick once and kept: everything that choosing and joining licks needs."""

from dataclasses import dataclass

from service.judge.hands import lick_hands, strain, top_tempo
from service.judge.joins import Edges, lick_edges
from service.judge.judgement import judge_lick
from service.judge.level import LEVELS, USUAL_BPM, level_load, strain_points, whole_level
from service.judge.rules import EIGHTH_MS, Finding, bpm_for
from service.music.licks import Lick
from service.music.meter import Meter

UP_FROM, UP_NOTES = (
    7,
    3,
)  # fret where "up the neck" begins; fretted notes that make a stay there (common practice)
RULES_VERSION = 6  # of all judging; facts of another version are made again


@dataclass(frozen=True, slots=True)
class Facts:
    """``fit`` and ``share`` over the lick's own chords; ``load`` of the worst moment, milliseconds a tick, None where no
    hand can do it; ``level_load`` is what makes the level rise with the tempo; ``points`` of difficulty without tempo; ``up`` says that it lies up the
    neck; ``target`` is the pitch class on its first strong place, None if that is empty; ``findings`` are what breaks the rules at the tempo from
    which all of them hold.
    """

    fit: float
    share: float
    load: float | None
    level_load: float
    points: float
    edges: Edges
    findings: tuple[Finding, ...]
    up: bool = False
    target: int | None = None

    @property
    def broken(self) -> frozenset[str]:
        return frozenset(finding.code for finding in self.findings)

    def top_bpm(self, meter: Meter) -> int | None:
        """Comfortable top tempo in the meter's beats a minute."""
        return None if self.load is None else top_tempo(self.load, meter)

    def level(self, bpm: float, beat_ticks: int) -> int:
        """1-5 at a tempo."""
        if self.load is None:
            return LEVELS
        return whole_level(self.points + strain_points(strain(self.level_load, bpm, beat_ticks)))

    def share_of_limit(self, bpm: float, beat_ticks: int) -> float:
        """How much of the time there is the worst moment takes at a tempo; above 1 it is too fast."""
        return float("inf") if self.load is None else strain(self.load, bpm, beat_ticks)


def facts_of(lick: Lick) -> Facts:
    hands = lick_hands(lick)
    judged = judge_lick(lick, hands=hands, bpm=bpm_for(EIGHTH_MS, lick.meter))
    points = sum(value for name, value in judged.level.points if name != "strain")
    return Facts(
        judged.fit.score,
        judged.fit.share,
        None if hands.left.impossible is not None else hands.load,
        level_load(hands),
        points,
        lick_edges(lick, hands.left),
        tuple(finding for finding in judged.findings if finding.code != "too-fast"),
        lies_up(lick),
        first_target(lick),
    )


def lies_up(lick: Lick) -> bool:
    """Whether half of a lick's fretted notes or more lie up the neck."""
    short = lick.instrument.short_string
    frets = [n.fret for n in lick.notes if n.fret and (short is None or n.string != short[0])]
    return len(frets) >= UP_NOTES and 2 * sum(fret >= UP_FROM for fret in frets) >= len(frets)


def first_target(lick: Lick) -> int | None:
    """The pitch class that a lick's first strong place has: begun there or a slot before, the highest but for a drone."""
    short = lick.instrument.short_string
    line = [n for n in lick.notes if short is None or n.string != short[0] or n.fret]
    for onset in (0, -lick.meter.slot_ticks):
        pitches = [
            lick.fretboard.pitch(n.string, n.fret) for n in line if n.onset == onset and n.technique != "mute"
        ]
        if pitches:
            return max(pitches) % 12
    return None


def level_at(lick: Lick, facts: Facts, bpm: float, beat_ticks: int) -> int:
    """The level that was given to a lick, raised or lowered by what a tempo other than the usual one does."""
    usual = facts.level(USUAL_BPM[lick.meter.name], lick.meter.beat_ticks)
    return max(1, min(LEVELS, lick.level + facts.level(bpm, beat_ticks) - usual))
