"""Written rhythm: which note values a measure takes. What may cross a beat is common practice, from memory."""

from dataclasses import replace
from fractions import Fraction

import music21
import pytest
from hypothesis import given

from service.errors import DomainError
from service.music.instruments import instrument_named
from service.music.licks import Note
from service.music.meter import meter_named
from service.music.passages import Passage, lasting
from service.music.rhythm import Value, WrittenMeasure, written
from tests.strategies import passages

BANJO = instrument_named("banjo")
SHORT = {"whole": "w", "half": "h", "quarter": "q", "eighth": "8", "16th": "16", "32nd": "32"}


def _passage(
    onsets: list[int], *, meter: str = "4/4", measures: tuple[int, ...] = (), ends: list[int] | None = None
) -> Passage:
    """Notes at these onsets, each lasting to the next or to its bar line, or to the ends given."""
    counted = meter_named(meter)
    lengths = measures or (counted.measure_ticks,)
    starts = [sum(lengths[:n]) for n in range(len(lengths))]
    notes = lasting([Note(onset, 3, 0, 0) for onset in onsets], starts, sum(lengths))
    if ends is not None:
        notes = tuple(Note(n.onset, 3, 0, end - n.onset) for n, end in zip(notes, ends, strict=True))
    return Passage(BANJO, BANJO.tuning(), counted, lengths, notes)


def _look(value: Value) -> str:
    """``q.`` is a dotted quarter, ``r8`` an eighth rest, ``~`` a tie to the next, ``3`` a value of a triplet."""
    triplet = "(3)" if value.tuplet else ""
    return f"{'r' * value.rest}{SHORT[value.kind]}{'.' * value.dots}{triplet}{'~' * bool(value.tied_to)}"


def _looks(passage: Passage) -> str:
    return " | ".join(" ".join(_look(value) for value in measure.values) for measure in written(passage))


@pytest.mark.parametrize(
    ("meter", "onsets", "looks"),
    [
        ("2/2", [0, 240, 480, 720, 960, 1200, 1440, 1680], "8 8 8 8 8 8 8 8"),
        ("4/4", [0, 480, 1440], "q h q"),  # the one value that may hide the middle of the measure
        ("4/4", [0, 1440], "h. q"),
        ("4/4", [0, 480], "q q~ h"),
        ("4/4", [0, 240, 720, 960], "8 q 8 h"),
        ("4/4", [0, 240, 960], "8 q. h"),
        ("4/4", [0, 720, 1200], "q. 8~ 8 q."),
        ("4/4", [0, 480, 1200], "q q~ 8 q."),
        ("4/4", [0, 360, 480, 600], "8. 16 16 8.~ h"),
        ("3/4", [0, 480], "q h"),
        ("3/4", [0, 720], "q. 8~ q"),  # two dotted quarters would look like six eight
        ("3/4", [0, 960], "h q"),
        ("3/4", [0, 240, 720], "8 q 8~ q"),
        ("6/8", [0, 720], "q. q."),
        ("6/8", [0, 480, 720, 960], "q 8 8 q"),
        ("6/8", [0, 480, 960], "q 8~ 8 q"),
        ("6/8", [0], "h."),
        ("9/8", [0, 720], "q. h."),
        ("9/8", [0, 1440], "h. q."),
        ("9/8", [0], "h.~ q."),  # no value lasts nine eighths
        ("9/8", [0, 480, 960], "q 8~ 8 q~ q."),
        ("12/8", [0], "w."),
        ("12/8", [0, 1440], "h. h."),
        ("12/8", [0, 720, 2160], "q. q.~ q. q."),  # the middle shows
        ("12/8", [0, 480, 720, 960, 1440, 1920, 2160, 2400], "q 8 8 q q 8 8 q"),
        ("2/4", [0, 240, 720], "8 q 8"),
        ("2/4", [0, 120, 360, 480], "16 8 16 q"),
        ("2/4", [0, 360], "8. 16~ q"),
    ],
)
def test_values_show_the_beats(meter: str, onsets: list[int], looks: str) -> None:
    assert _looks(_passage(onsets, meter=meter)) == looks


@pytest.mark.parametrize(
    ("meter", "onsets", "looks"),
    [
        ("4/4", [0, 160, 320, 480], "8(3) 8(3) 8(3) q~ h"),
        ("4/4", [0, 320, 480, 960], "q(3) 8(3) q h"),
        ("4/4", [0, 320, 640, 960], "q(3) q(3) q(3) h"),
        ("2/4", [0, 80, 160, 240, 480], "16(3) 16(3) 16(3) 8 q"),
        ("6/8", [0, 80, 160, 240, 480, 720], "16(3) 16(3) 16(3) 8 8 q."),
        ("9/8", [0, 720, 1440, 1920, 2000, 2080], "q. q. q 16(3) 16(3) 16(3)"),
        ("4/4", [0, 240, 320, 400, 480, 960], "8 16(3) 16(3) 16(3) q h"),
        ("4/4", [0, 160, 240, 320, 480, 960], "8(3) 16(3) 16(3) 8(3) q h"),
        ("4/4", [0, 40, 80, 120, 240, 480, 960], "32(3) 32(3) 32(3) 16 8 q h"),
    ],
)
def test_three_in_the_time_of_two(meter: str, onsets: list[int], looks: str) -> None:
    assert _looks(_passage(onsets, meter=meter)) == looks


@pytest.mark.parametrize(
    ("meter", "onsets", "ends", "looks"),
    [
        ("4/4", [0, 1440], [480, 1920], "q rq rq q"),
        ("4/4", [0], [240], "8 r8 rq rh"),
        ("4/4", [1680], [1920], "rh rq r8 8"),
        ("3/4", [0], [480], "q rq rq"),
        ("6/8", [0, 720], [240, 960], "8 r8 r8 8 r8 r8"),
        ("6/8", [480], [720], "rq 8 rq."),
        ("9/8", [0], [720], "q. rq. rq."),
        ("9/8", [1440], [2160], "rq. rq. q."),
        ("12/8", [2160], [2880], "rh. rq. q."),
        ("4/4", [320], [480], "rq(3) 8(3) rq rh"),
    ],
)
def test_a_rest_follows_where_everything_has_ended(
    meter: str, onsets: list[int], ends: list[int], looks: str
) -> None:
    assert _looks(_passage(onsets, meter=meter, ends=ends)) == looks


def test_there_is_no_rest_while_another_string_rings() -> None:
    notes = (Note(0, 3, 0, 1920), Note(480, 2, 0, 240))
    assert _looks(Passage(BANJO, BANJO.tuning(), meter_named("4/4"), (1920,), notes)) == "q q~ h"


def test_a_measure_without_notes_is_one_whole_rest() -> None:
    passage = _passage([0, 3840], meter="3/4", measures=(1440, 1440, 1440), ends=[1440, 4320])
    (rest,) = written(passage)[1].values
    assert (rest.kind, rest.ticks, rest.rest) == ("whole", 1440, True)


def test_a_passage_without_notes_is_all_rests() -> None:
    assert _looks(_passage([], measures=(1920, 960))) == "rw | rw"


def test_what_lies_past_the_last_measure_is_not_written() -> None:
    passage = _passage([0, 1920], measures=(1920, 1920))
    assert _looks(replace(passage, measures=(1920,))) == "w"


def test_a_note_goes_over_the_bar_line_tied() -> None:
    passage = _passage([0, 1440], measures=(1920, 1920), ends=[1440, 2880])
    assert _looks(passage) == "h. q~ | h rh"
    assert written(passage)[1].values[0].struck == ()


def test_a_tied_note_of_the_tab_is_tied_in_writing() -> None:
    notes = (Note(0, 3, 0, 240), Note(240, 3, 0, 240, "tie"), Note(480, 2, 0, 1440))
    first, second, *_ = written(Passage(BANJO, BANJO.tuning(), meter_named("4/4"), (1920,), notes))[0].values
    assert (first.tied_to, second.tied_from, second.struck) == ((3,), (3,), ())


def test_notes_struck_together_are_one_value() -> None:
    notes = (Note(0, 1, 0, 1920), Note(0, 5, 0, 1920))
    (value,) = written(Passage(BANJO, BANJO.tuning(), meter_named("2/2"), (1920,), notes))[0].values
    assert [note.string for note in value.notes] == [1, 5]


@pytest.mark.parametrize(
    ("onsets", "length", "looks"),
    [
        ([-480, -240, 0], 480, "8 8 | w"),
        ([-360, 0], 480, "r16 8. | w"),
        ([-720, 0], 720, "q. | w"),
        ([-600, 0], 720, "r16 16~ q | w"),  # the beat shows: a pickup lies at the end of a measure
        ([-160, 0], 240, "r16(3) 8(3) | w"),
        ([-320, -160, 0], 480, "r8(3) 8(3) 8(3) | w"),
    ],
)
def test_a_pickup_is_a_measure_of_its_own(onsets: list[int], length: int, looks: str) -> None:
    passage = _passage(onsets)
    assert _looks(passage) == looks
    first = written(passage)[0]
    assert (first.number, first.onset, first.ticks) == (0, -length, length)


def test_a_crooked_measure_has_only_its_own_length() -> None:
    assert _looks(_passage([0, 960, 2400], meter="2/2", measures=(960, 1440, 1920))) == "h | h. | w"
    assert _looks(_passage([0, 480, 2880], meter="2/2", measures=(2880, 960))) == "q q~ h~ h | h"


def _beamed(passage: Passage) -> list[tuple[str, ...]]:
    return [value.beams for measure in written(passage) for value in measure.values]


def _sizes(passage: Passage) -> list[int]:
    """How many values each first beam joins."""
    sizes: list[int] = []
    for beams in _beamed(passage):
        if beams and beams[0] == "begin":
            sizes.append(0)
        if beams:
            sizes[-1] += 1
    return sizes


@pytest.mark.parametrize(
    ("meter", "onsets", "sizes"),
    [
        ("2/2", list(range(0, 1920, 240)), [4, 4]),
        ("4/4", list(range(0, 1920, 240)), [4, 4]),
        ("3/4", list(range(0, 1440, 240)), [2, 2, 2]),
        ("6/8", list(range(0, 1440, 240)), [3, 3]),
        ("9/8", list(range(0, 2160, 240)), [3, 3, 3]),
        ("12/8", list(range(0, 2880, 240)), [3, 3, 3, 3]),
        ("2/4", list(range(0, 960, 120)), [4, 4]),
        ("4/4", [0, 120, 240, 480, 720, 960], [3, 2]),  # sixteenths: by quarters
        ("4/4", [0, 160, 320, 480, 720, 960], [3, 2]),
        ("4/4", [0, 240, 720, 960], []),  # a quarter between: flags
    ],
)
def test_beams_follow_the_beat(meter: str, onsets: list[int], sizes: list[int]) -> None:
    assert _sizes(_passage(onsets, meter=meter)) == sizes


def test_a_rest_breaks_a_beam() -> None:
    assert _sizes(_passage([0, 480, 720], ends=[240, 720, 960])) == [2]


def test_shorter_notes_have_more_beams() -> None:
    dotted = _beamed(_passage([0, 360, 480, 600, 960]))
    assert dotted[:4] == [("begin",), ("end", "backward hook"), ("begin", "forward hook"), ("end",)]
    middle = _beamed(_passage([0, 120, 360, 480]))
    assert middle[:3] == [("begin", "forward hook"), ("continue",), ("end", "backward hook")]


@pytest.mark.parametrize(
    "onsets", [[0, 7], [0, 30], [0, 60, 80], [0, 137, 480]], ids=["7", "64th", "mixed", "137"]
)
def test_what_is_too_fine_is_refused_with_its_measure(onsets: list[int]) -> None:
    with pytest.raises(DomainError) as caught:
        written(_passage([0, *[1920 + onset for onset in onsets]], measures=(1920, 1920)))
    assert (caught.value.code, caught.value.params) == ("rhythm-too-fine", {"measure": 2})


def _written_length(value: Value) -> Fraction:
    """What music21 takes the written value to last, in ticks."""
    length = music21.duration.Duration(type=value.kind, dots=value.dots)
    if value.tuplet:
        length.appendTuplet(music21.duration.Tuplet(3, 2, value.tuplet.kind))
    return Fraction(length.quarterLength) * 480


def _complete_triplets(measure: WrittenMeasure) -> bool:
    """Each group is opened and closed, and lasts as long as two of what is counted three times."""
    begun: tuple[int, str] | None = None
    for value in measure.values:
        edge = value.tuplet.edge if value.tuplet else None
        if (edge in ("inside", "stop")) != (begun is not None):
            return False
        if value.tuplet and edge == "start":
            begun = (value.onset, value.tuplet.kind)
        if value.tuplet and edge == "stop" and begun:
            whole = 2 * Fraction(music21.duration.Duration(type=begun[1]).quarterLength) * 480
            if value.onset + value.ticks - begun[0] != whole:
                return False
            begun = None
    return begun is None


@given(passages())
def test_any_passage_is_written_out_exactly(passage: Passage) -> None:
    measures = written(passage)
    struck: list[Note] = []
    for measure in measures:
        at = 0
        for value in measure.values:
            assert value.onset == at
            if value.kind != "whole" or not value.rest:
                assert _written_length(value) == value.ticks
            if not (value.tied_from and len(value.tied_from) == len(value.notes)):
                assert all(note.onset == measure.onset + at for note in value.notes)
            struck.extend(note for note in value.notes if note.onset == measure.onset + at)
            at += value.ticks
        assert at == measure.ticks
        assert _complete_triplets(measure)
    assert struck == sorted(passage.notes)
    assert [m.ticks for m in measures if m.number] == list(passage.measures)
