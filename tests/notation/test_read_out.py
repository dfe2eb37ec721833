"""The tab in words: what is said, what is not said twice, and that the notes can be written down again from it."""

import re
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given

from service.music.harmony import chord_named, key_named
from service.music.instruments import instrument_named
from service.music.licks import Change, Note
from service.music.meter import Meter, meter_named
from service.music.passages import Passage
from service.music.scores import Beat, Repeat, Score, Section, Span
from service.notation.linked import sources
from service.notation.one_line import read_one_line
from service.sentences.reading_out import SENTENCES
from service.web.read_out import described, read_out_text
from tests.strategies import passages

BANJO = instrument_named("banjo")
ROLL = "32514251"


def _score(passage: Passage, **more: Any) -> Score:
    given = {"title": "Made up", "key": key_named("G"), "beat": Beat(110, "half"), **more}
    return Score(passage=passage, **given)


def _line(text: str, *, meter: str = "2/2", instrument: str = "banjo", **more: Any) -> Score:
    passage = read_one_line(text, instrument_named(instrument), meter=meter).passage
    kept = {name: more.pop(name) for name in ("capo", "stop", "changes") if name in more}
    return _score(replace(passage, **kept), **more)


def _music(score: Score) -> list[str]:
    """The lines from the music on."""
    lines = read_out_text(score).splitlines()
    first = next(n for n, line in enumerate(lines) if re.match(r"Pickup|Part|Measure", line))
    return lines[first:]


def _two_halves(*notes: Note) -> Score:
    return _score(Passage(BANJO, BANJO.tuning(), meter_named("2/2"), (1920,), notes))


# --- before the music ------------------------------------------------------------------------------------


def test_what_to_tune_and_how_to_count_comes_first() -> None:
    # G shapes with capo 2 and the fifth string at the 7th fret sound in A; its A is MIDI 69 [common practice]
    score = _line(ROLL, capo=2, stop=69, title="Ferry song", credits=("Own work.",))
    assert read_out_text(score).splitlines()[:8] == [
        "Ferry song, for five-string banjo.",
        "Tuning: open G. Open strings from the first: D, B, G, D, G.",
        "Capo at the second fret: G major shapes sound in A major.",
        "The fifth string is stopped at its seventh fret and sounds A when open.",
        "Cut time, counted 1 e and a, 2 e and a.",
        "Tempo: 110 beats a minute, each a half note.",
        "Length: one measure.",
        "Own work.",
    ]


def test_all_eighths_of_a_slip_jig_are_counted() -> None:
    score = _line("3 - 2 1 - 5 3 2 1", meter="9/8", beat=Beat(84, "dotted quarter"))
    assert "Nine eight time, counted 1 to 9." in read_out_text(score)
    assert "Tempo: 84 beats a minute, each a dotted quarter note." in read_out_text(score)
    (measure,) = _music(score)
    assert re.findall(r"(\d+): ", measure) == ["1", "3", "4", "6", "7", "8", "9"]
    slide = _line("3 - 2 1 - 5 3 - 2 1 2 5", meter="12/8")
    assert "Twelve eight time, counted 1 to 12." in read_out_text(slide)
    assert "12: fifth string open" in _music(slide)[0]


def test_a_fifth_string_left_alone_is_said_to_be_open() -> None:
    assert "The fifth string sounds G when open." in read_out_text(_line(ROLL))
    assert "The fifth string sounds G when open." in read_out_text(_line(ROLL, capo=2, stop=67))


def test_a_guitar_has_no_word_of_a_fifth_string() -> None:
    text = read_out_text(_line("65432123", meter="4/4", instrument="guitar"))
    assert "Open strings from the first: E, B, G, D, A, E." in text
    assert "sounds" not in text


def test_what_comes_twice_is_said_before_it_comes() -> None:
    lines = ", ".join([ROLL] * 4)
    assert "Played twice: measures 1 to 2." in read_out_text(_line(lines, repeats=(Repeat(0, 1),)))
    ended = read_out_text(_line(lines, repeats=(Repeat(0, 2, ending=2),)))
    assert "Played twice: measures 1 to 3, the second time with measure 4 in place of measure 3." in ended


# --- counts ----------------------------------------------------------------------------------------------


def test_each_note_has_its_count_and_a_beat_its_number_once() -> None:
    assert _music(_line(ROLL, changes=(Change(0, chord_named("G")),))) == [
        "Measure 1, over G. 1: third string open; e: second string open; and: fifth string open; "
        "a: first string open; 2: fourth string open; e: second string open; and: fifth string open; "
        "a: first string open."
    ]


def test_a_count_whose_beat_was_not_said_names_it() -> None:
    assert _music(_line("3 - 2 - - - 5 1")) == [
        "Measure 1. 1: third string open; and: second string open; the and of 2: fifth string open; a: first string open."
    ]


def test_three_in_the_time_of_two_are_counted_as_three() -> None:
    notes = (Note(0, 3, 0, 160), Note(160, 3, 0, 160), Note(320, 3, 0, 160), Note(480, 1, 0, 1440))
    assert _music(_two_halves(*notes)) == [
        "Measure 1. 1: third string open; second of three eighths from 1: third string open; "
        "last of three eighths from 1: third string open; and: first string open."
    ]


def test_a_pickup_is_counted_as_the_end_of_a_measure() -> None:
    assert _music(_line("4 4.2; 3-------"))[0] == (
        "Pickup: the and of 2: fourth string open; a: fourth string, second fret."
    )


def test_a_rest_is_said_once() -> None:
    assert _music(_two_halves(Note(0, 3, 0, 480))) == ["Measure 1. 1: third string open; and: rest."]


def test_a_note_that_goes_on_over_the_bar_is_held() -> None:
    passage = Passage(BANJO, BANJO.tuning(), meter_named("2/2"), (1920, 1920), (Note(0, 3, 0, 3840),))
    assert _music(_score(passage))[1] == "Measure 2. Hold what rings."


# --- notes -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("first", "then", "said"),
    [
        (2, Note(960, 3, 4, 960, "slide"), "third string, slide up to the fourth fret"),
        (5, Note(960, 3, 4, 960, "slide"), "third string, slide down to the fourth fret"),
        (4, Note(960, 3, 4, 960, "slide"), "third string, slide into the fourth fret"),
        (0, Note(960, 3, 2, 960, "hammer-on"), "third string, hammer on to the second fret"),
        (2, Note(960, 3, 0, 960, "pull-off"), "third string, pull off to open"),
        (3, Note(960, 3, 2, 960, "pull-off"), "third string, pull off to the second fret"),
        (0, Note(960, 2, 10, 960, "choke"), "second string, tenth fret, choked"),
        (0, Note(960, 2, 3, 960, "ghost"), "second string, third fret, hardly heard"),
        (0, Note(960, 2, 0, 960, "mute"), "second string muted"),
        (0, Note(960, 5, 7, 960, None, "T"), "fifth string, seventh fret, thumb"),
        (0, Note(960, 1, 0, 960, None, "M"), "first string open, middle"),
        (0, Note(960, 1, 0, 960, None, "u"), "first string open, up"),
    ],
)
def test_what_the_hands_do_is_said(first: int, then: Note, said: str) -> None:
    (line,) = _music(_two_halves(Note(0, 3, first, 960), then))
    assert line.endswith(f"2: {said}.")


def test_left_hand_fingers_are_named_where_they_are_known() -> None:
    score = replace(_two_halves(Note(0, 3, 2, 1920, None, "T")), left={(0, 3): 2})
    assert _music(score) == [
        "Measure 1. 1: third string, second fret, stopped with the middle finger, thumb."
    ]


def test_a_pinch_is_said_to_be_together() -> None:
    pinch = (Note(0, 1, 0, 1920, None, "M"), Note(0, 5, 0, 1920, None, "T"))
    assert _music(_two_halves(*pinch)) == [
        "Measure 1. 1: first string open, middle, and fifth string open, thumb, together."
    ]
    three = (Note(0, 1, 0, 1920), Note(0, 2, 0, 1920), Note(0, 5, 0, 1920))
    assert _music(_two_halves(*three)) == [
        "Measure 1. 1: together first string open; second string open; fifth string open."
    ]


def test_a_tied_note_is_not_struck_again_in_words() -> None:
    assert _music(_line("3 2 5 1 = 2 5 1")) == [
        "Measure 1. 1: third string open; e: second string open; and: fifth string open; a: first string open; "
        "the e of 2: second string open; and: fifth string open; a: first string open."
    ]


# --- chords ----------------------------------------------------------------------------------------------


def test_a_chord_is_said_where_it_changes() -> None:
    changes = (Change(0, chord_named("G")), Change(3840, chord_named("D7")), Change(4800, None))
    lines = _music(_line("3-------, 2-------, 1--- 5---", changes=changes))
    assert lines == [
        "Measure 1, over G. 1: third string open.",
        "Measure 2. 1: second string open.",
        "Measure 3, over D seven. 1: first string open; 2, over no chord: fifth string open.",
    ]


def test_a_chord_that_changes_under_a_held_note_is_said_at_its_count() -> None:
    changes = (Change(0, chord_named("F#m7b5")), Change(960, chord_named("Bb/D")))
    assert _music(_line("3-------", changes=changes)) == [
        "Measure 1, over F sharp half diminished. 1: third string open; 2: over B flat with D in the bass from here."
    ]


# --- nothing twice ---------------------------------------------------------------------------------------


def test_measures_like_earlier_ones_are_said_by_their_numbers() -> None:
    other = "3-------"
    assert _music(_line(f"{ROLL}, {other}, {ROLL}, 1-------, {ROLL}, {other}"))[2:] == [
        "Measure 3: as measure 1.",
        "Measure 4. 1: first string open.",
        "Measures 5 to 6: as measures 1 to 2.",
    ]


def test_the_same_notes_over_another_chord_are_another_measure() -> None:
    changes = (Change(0, chord_named("G")), Change(1920, chord_named("C")))
    assert _music(_line("3-------, 3-------", changes=changes))[1] == (
        "Measure 2, over C. 1: third string open."
    )


def test_after_a_measure_said_by_its_number_the_chord_is_said_again() -> None:
    changes = (Change(0, chord_named("G")),)
    assert _music(_line("3-------, 3-------, 1-------", changes=changes)) == [
        "Measure 1, over G. 1: third string open.",
        "Measure 2: as measure 1.",
        "Measure 3, over G. 1: first string open.",
    ]


def test_a_part_that_comes_again_is_one_sentence() -> None:
    score = _line(
        f"{ROLL}, 3-------, {ROLL}, 3-------",
        sections=(Section(0, "A"), Section(3840, "A")),
        phrases=(Span(0, 3840, "Up the bank"), Span(3840, 3840, "Up the bank")),
    )
    lines = _music(score)
    assert lines[:2] == ["Part A.", "Up the bank, measures 1 to 2."]
    assert lines[-1] == "Part A again, measures 3 to 4: as measures 1 to 2."
    assert len(lines) == 5


def test_a_part_that_comes_again_with_another_lick_is_told() -> None:
    score = _line(
        "3-------, 3-------",
        sections=(Section(0, "A"), Section(1920, "A")),
        phrases=(Span(0, 1920, "Up the bank"), Span(1920, 1920, "Down the bank")),
    )
    assert _music(score)[2:] == [
        "Measure 1. 1: third string open.",
        "Part A.",
        "Down the bank, measure 2.",
        "Measure 2: as measure 1.",
    ]


def test_of_a_rest_is_said_why_it_stands_there() -> None:
    passage = replace(_line(f"{ROLL}, {ROLL}, {ROLL}").passage)
    passage = replace(passage, notes=tuple(n for n in passage.notes if n.onset < 1920))
    why = "Measure 2: lick 9 was taken down."
    score = _score(passage, phrases=(Span(0, 1920, "Up the bank"), Span(1920, 3840, why, rest=True)))
    assert _music(score)[-2:] == [why, "Measures 2 to 3: rest."]
    assert why in described(score)


def test_over_which_chord_a_rest_lies_is_said_for_whoever_plays_behind_others() -> None:
    passage = _line(f"{ROLL}, {ROLL}, {ROLL}").passage
    changes = (Change(0, chord_named("G")), Change(1920, chord_named("C")), Change(3840, chord_named("D")))
    passage = replace(passage, notes=tuple(n for n in passage.notes if n.onset < 1920), changes=changes)
    told = _music(_score(passage))
    assert told[-2:] == ["Measure 2, over C: rest.", "Measure 3, over D: rest."]


def test_a_break_of_nothing_but_a_rest_can_be_told() -> None:
    passage = replace(_line(f"{ROLL}, {ROLL}").passage, notes=())
    assert _music(_score(passage)) == ["Measures 1 to 2: rest."]


def test_a_measure_of_another_length_is_told_before_it_comes() -> None:
    passage = Passage(
        BANJO, BANJO.tuning(), meter_named("2/2"), (1920, 960), (Note(0, 3, 0, 1920), Note(1920, 1, 0, 960))
    )
    assert _music(_score(passage))[1:] == [
        "Measure 2 is 4 eighths long instead of 8.",
        "Measure 2. 1: first string open.",
    ]


# --- written down again ----------------------------------------------------------------------------------

ORDINALS = {SENTENCES[f"ordinal-{n}"][0]: n for n in range(1, 25)}
UNITS = {"quarters": 320, "eighths": 160, "sixteenths": 80, "thirty-seconds": 40}


class _Listener:
    """Writes down what the sentences say: ticks within a measure, strings, and frets (None for a muted string)."""

    def __init__(self, meter: Meter) -> None:
        self._meter = meter
        self._measures: dict[int, list[tuple[int, int, int | None]]] = {}

    def hear(self, line: str) -> None:
        told = re.match(r"(?:Pickup:|Measure (\d+)(?:, over [^.]*)?\.) (.*)\.$", line)
        same = re.match(r"Measure (\d+): as measure (\d+)\.$", line)
        like = re.match(r"Measures (\d+) to (\d+): as measure (\d+)\.$", line)
        several = re.match(r"Measures (\d+) to (\d+): as measures (\d+) to (\d+)\.$", line)
        if told:
            self._measures[int(told[1] or 0)] = self._events(told[2])
        elif same:
            self._measures[int(same[1])] = self._measures[int(same[2])]
        elif like:
            for number in range(int(like[1]), int(like[2]) + 1):
                self._measures[number] = self._measures[int(like[3])]
        elif several:
            first, last, start, _ = map(int, several.groups())
            for number in range(first, last + 1):
                self._measures[number] = self._measures[start + number - first]

    def heard(self, number: int) -> list[tuple[int, int, int | None]]:
        return sorted(self._measures.get(number, []), key=str)

    def _events(self, text: str) -> list[tuple[int, int, int | None]]:
        found = []
        beat = 0
        for event in text.split("; "):
            if ": " not in event:
                assert event == "Hold what rings"
                continue
            count, notes = re.sub(r", over [^:]*:", ":", event).split(": ", 1)
            tick, beat = self._tick(count, beat)
            if notes == "rest" or notes.startswith("over "):
                continue
            for note in notes.removesuffix(", together").split(", and "):
                string = re.match(r"(\w+) string", note)
                fret = re.search(r"([\w-]+) fret", note)
                assert string
                silent = "muted" in note
                found.append(
                    (tick, ORDINALS[string[1]], None if silent else ORDINALS[fret[1]] if fret else 0)
                )
        return found

    def _tick(self, count: str, beat: int) -> tuple[int, int]:
        """Tick of a count, and tick of its beat."""
        third = re.match(r"(second|last) of three ([\w-]+) from (.*)", count)
        if third:
            tick, beat = self._tick(third[3], beat)
            return tick + UNITS[third[2]] * (1 if third[1] == "second" else 2), beat
        part = re.match(r"(a quarter of the way|halfway|three quarters of the way) after (.*)", count)
        if part:
            tick, beat = self._tick(part[2], beat)
            share = {"a": 1, "h": 2, "t": 3}[part[1][0]]
            return tick + self._meter.slot_ticks * share // 4, beat
        named = re.match(r"the (\w+) of (\d)", count)
        if named:
            beat = self._beat(named[2])
            count = named[1]
        if count.isdigit():
            beat = self._beat(count)
            return beat, beat
        cut = self._meter.name in ("2/2", "2/4")  # counted 1 e and a
        slots = {"e": 1, "and": 2 if cut else 1, "a": 3}[count]
        return beat + slots * self._meter.slot_ticks, beat

    def _beat(self, number: str) -> int:
        return self._meter.counts.index(number) * self._meter.slot_ticks


@given(passages())
def test_the_notes_can_be_written_down_again_from_the_words(passage: Passage) -> None:
    listener = _Listener(passage.meter)
    for line in _music(_score(passage)):
        listener.hear(line)
    tied = set(sources(passage.notes, passage.meter))
    spans = list(zip((0, *passage.starts), (0, *passage.measures), strict=True))
    for number, (start, ticks) in enumerate(spans):
        wanted = []
        for note in passage.notes:
            inside = start <= note.onset < start + ticks if number else note.onset < 0
            if inside and not (note.technique == "tie" and (note.onset, note.string) in tied):
                tick = note.onset - start if number else note.onset + passage.meter.measure_ticks
                fret = None if note.technique == "mute" else note.fret
                wanted.append((tick, note.string, fret))
        assert listener.heard(number) == sorted(wanted, key=str)


# --- in short --------------------------------------------------------------------------------------------


def _long() -> Score:
    lines = ", ".join(f"{n} 2 5 1 4 2 5 1" for n in (3, 2, 1, 4) for _ in range(4))
    return _line(lines, changes=(Change(0, chord_named("G")), Change(1920 * 8, chord_named("D7"))))


def test_a_description_says_what_it_is_and_as_many_whole_measures_as_fit() -> None:
    text = described(_long(), limit=420)
    assert text.startswith(
        "Made up: tab for five-string banjo in G major, 16 measures. Chords by measure: G for 8; D seven for 8. Measure 1, over G."
    )
    assert text.endswith("Measures 2 to 4: as measure 1. 12 more measures follow.")


@pytest.mark.parametrize("limit", [1, 20, 60, 100, 150, 200, 300, 500, 1024, 4000])
def test_a_description_keeps_to_its_limit(limit: int) -> None:
    assert 0 < len(described(_long(), limit=limit)) <= limit


def test_a_description_that_has_room_tells_everything() -> None:
    text = described(_long(), limit=10_000)
    assert "follow" not in text
    assert text.endswith("Measures 14 to 16: as measure 13.")


def test_a_longer_description_tells_no_fewer_measures() -> None:
    told = [len(re.findall(r"Measures? \d", described(_long(), limit=limit))) for limit in range(1, 1500, 40)]
    assert told == sorted(told)
    assert told[-1] > 5


def test_a_description_names_the_shapes_behind_a_capo() -> None:
    assert "in A major, G major shapes with the capo at the second fret" in described(_line(ROLL, capo=2))


def test_a_part_that_comes_again_has_its_chords_named_once() -> None:
    changes = (Change(0, chord_named("G")), Change(1920, chord_named("C")), Change(3840, chord_named("G")),
               Change(5760, chord_named("C")))  # fmt: skip
    score = _line(", ".join([ROLL] * 4), changes=changes, sections=(Section(0, "A"), Section(3840, "A")))
    assert "Chords by measure: part A, G; C. " in described(score)
