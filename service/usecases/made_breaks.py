"""A break with everything to show it: licks in their places, seams, the whole as music."""

from bisect import bisect_right
from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from service.compose.matching import Ground, ground_of, tempo_of
from service.compose.seams import jumps_count
from service.errors import Erased, NotFound, TakenDown
from service.judge.facts import level_at
from service.judge.fit import Fit
from service.judge.hands import strain, top_tempo
from service.judge.joins import Join, remarks, seam
from service.judge.judgement import in_time_of, lick_fit
from service.judge.level import LEVELS
from service.judge.melody import Recall, recall
from service.judge.right_hand import with_fingers
from service.judge.rules import Finding
from service.music.breaks import Filled, assemble, end_to_end, part_of
from service.music.meter import stretch
from service.music.passages import Passage
from service.music.setting import Setting
from service.music.tunes import Phrase, Tune
from service.store.breaks import NumberRow
from service.usecases.house import House
from service.usecases.licks import KeptLick, find_lick
from service.usecases.records import Rights


@dataclass(frozen=True, slots=True, eq=False)
class BreakPhrase:
    """One lick of a break: the phrases it fills and how it stands there; ``level`` is at the tune's tempo."""

    tune: Tune
    form: tuple[Phrase, ...]
    lick: KeptLick
    ground: Ground
    fit: Fit
    recall: Recall
    level: int


@dataclass(frozen=True, slots=True, eq=False)
class Rest:
    """What stands where a lick was taken down or erased: the phrases it filled, and nothing of the lick but its number."""

    form: tuple[Phrase, ...]
    lick: int
    ground: Ground
    erased: bool = False


Place = BreakPhrase | Rest


@dataclass(frozen=True, slots=True, eq=False)
class BreakJoin:
    """The seam before a phrase, from lick number ``before`` into ``after``: ``share`` of the time there is that it takes at
    the tune's tempo."""

    phrase: int
    before: int
    after: int
    join: Join
    share: float
    remarks: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Break:
    """A break with everything to show it. Level, top tempo and joins are those of the licks that are left; ``rights`` are the
    tune's."""

    code: str
    numbered: NumberRow
    group: str
    tune: Tune
    setting: Setting
    phrases: tuple[Place, ...]
    joins: tuple[BreakJoin, ...]
    rights: Rights

    @property
    def played(self) -> tuple[BreakPhrase, ...]:
        """Its licks in their places, without the rests."""
        return tuple(place for place in self.phrases if isinstance(place, BreakPhrase))

    @property
    def rests(self) -> tuple[Rest, ...]:
        return tuple(place for place in self.phrases if isinstance(place, Rest))

    @property
    def level(self) -> int:
        """That of its worst lick; a seam beyond the tempo makes it the highest. Nothing is easier than rests alone."""
        hurried = any(join.share > 1 for join in self.joins)
        return LEVELS if hurried else max((phrase.level for phrase in self.played), default=1)

    @property
    def top_bpm(self) -> int | None:
        """Comfortable top tempo in the meter's beats: where the worst moment or seam takes all the time there is."""
        if not self.played:
            return None
        meter = self.tune.meter
        loads = [join.join.load / meter.slot_ticks for join in self.joins]
        for phrase in self.played:
            if phrase.lick.facts.load is None:
                return None
            up, down = stretch(phrase.lick.lick.meter, meter) or (1, 1)
            loads.append(phrase.lick.facts.load * down / up)
        return top_tempo(max(loads), meter)

    @property
    def melody(self) -> float | None:
        """Share of the melody that it recalls, by the length of its phrases, a rest none; None without a melody."""
        if not self.tune.melody:
            return None
        ticks = [sum(p.ticks for p in place.form) for place in self.phrases]
        shares = [place.recall.share if isinstance(place, BreakPhrase) else 0.0 for place in self.phrases]
        return sum(t * share for t, share in zip(ticks, shares, strict=True)) / sum(ticks)

    def passage(self) -> Passage:
        """The whole break as it is shown: with picking fingers, seams and all."""
        filled = [Filled(p.form[0].number, p.lick.lick) for p in self.played]
        passage = assemble(self.tune, self.setting, filled)
        return _in_hand(passage, [(p.form[0].onset, p.lick.lick.style) for p in self.played])

    def around(self, phrase: int) -> tuple[Place, Place]:
        """What is played at a phrase, after what is played before it; before the first comes the last. Raises NotFound."""
        for index, place in enumerate(self.phrases):
            if place.form[0].number <= phrase <= place.form[-1].number:
                return self.phrases[index - 1], place
        raise NotFound("no-such-phrase", phrase=phrase, phrases=self.phrases[-1].form[-1].number)

    def to_hide(self, phrase: int) -> BreakPhrase | None:
        """What is played at a phrase; None for phrase 0, and where a rest stands anyway. Raises NotFound."""
        place = self.around(phrase)[1] if phrase else None
        return place if isinstance(place, BreakPhrase) else None

    def loop(self, phrase: int) -> Passage:
        """The phrase before and the phrase, to go round and round: a pickup of the first sounds over the end of the second."""
        before, here = self.around(phrase)
        both = end_to_end(self._alone(before), self._alone(here))
        edges = [(0, before), (sum(p.ticks for p in before.form), here)]
        styles = [(onset, p.lick.lick.style) for onset, p in edges if isinstance(p, BreakPhrase)]
        return _in_hand(both, styles)

    def _alone(self, place: Place) -> Passage:
        lick = place.lick.lick if isinstance(place, BreakPhrase) else None
        whole = assemble(self.tune, self.setting, [Filled(place.form[0].number, lick)])
        first = place.form[0].measure - 1
        ends = (*whole.starts, whole.ticks)
        end = place.form[-1].onset + place.form[-1].ticks
        return part_of(whole, first, ends.index(end))


def _in_hand(passage: Passage, styles: Sequence[tuple[int, str]]) -> Passage:
    """With picking fingers; ``styles`` are (onset from where, style)."""
    starts = [onset for onset, _ in styles]
    of_notes = [styles[max(0, bisect_right(starts, note.onset) - 1)][1] for note in passage.notes]
    return replace(passage, notes=with_fingers(passage.notes, of_notes, passage.meter))


def placed(
    house: House,
    group_id: int,
    tune: Tune,
    setting: Setting,
    form: Sequence[Phrase],
    number: int,
    revision: int,
    where: Hashable,
) -> Place:
    """A lick over the phrases that it fills in a break; a rest if it was taken down or erased, in whichever revision. ``where`` names tune,
    revision, setting and version of the pool: what was placed there a moment ago is the same again."""
    key = (where, form[0].number, len(form), number, revision)
    found = house.places.get(key)
    if found is None:
        ground = ground_of(form, setting, tune)
        try:
            found = in_place(
                house, group_id, tune, setting, ground, find_lick(house, group_id, number, revision)
            )
        except (TakenDown, Erased) as gone:
            found = Rest(tuple(form), number, ground, isinstance(gone, Erased))
        house.places.put(key, found)
    return found


def seams_between(
    house: House, tune: Tune, setting: Setting, places: Sequence[Place]
) -> tuple[BreakJoin, ...]:
    """The seams where two licks meet; next to a rest there is none."""
    found = []
    for before, after in pairwise(places):
        if isinstance(before, BreakPhrase) and isinstance(after, BreakPhrase):
            join = house.joins.get((before, after))
            if join is None:
                join = seam_of(tune, setting, before, after)
                house.joins.put((before, after), join)
            found.append(join)
    return tuple(found)


def in_place(
    house: House, group_id: int, tune: Tune, setting: Setting, ground: Ground, kept: KeptLick
) -> BreakPhrase:
    """A lick judged over the phrases it fills, from memory where it was so a moment ago."""
    lick = kept.lick
    key = (group_id, kept.number, kept.revision, ground.key)
    judged = house.judged.get(key)
    if judged is None:
        changes, melody = in_time_of(lick, tune.meter, ground.changes, ground.melody)
        judged = (
            lick_fit(lick, changes, melody, setting.position),
            recall(lick.sounding(), melody, lick.meter, lick.ticks),
        )
        house.judged.put(key, judged)
    bpm, beat = tempo_of(tune)
    up, down = stretch(lick.meter, tune.meter) or (1, 1)
    return BreakPhrase(
        tune, ground.form, kept, ground, *judged, level_at(lick, kept.facts, bpm, beat * down // up)
    )


def holding(join: Join, tune: Tune) -> tuple[Finding, ...]:
    """What breaks a rule at the tune's tempo: a jump needs air only from a certain tempo on."""
    jumps = jumps_count(tune)
    return tuple(f for f in join.findings if f.code != "seam-jump" or jumps)


def seam_of(tune: Tune, setting: Setting, before: BreakPhrase, after: BreakPhrase) -> BreakJoin:
    bpm, beat = tempo_of(tune)
    join = seam(before.lick.facts.edges, after.lick.facts.edges, setting.instrument.scale_mm)
    share = strain(join.load / tune.meter.slot_ticks, bpm, beat)
    told = remarks(before.lick.lick, after.lick.lick)
    return BreakJoin(
        after.form[0].number,
        before.lick.number,
        after.lick.number,
        replace(join, findings=holding(join, tune)),
        share,
        told,
    )
