"""Reading then writing then reading gives the same notes, over generated passages of every instrument."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.music.harmony import chord_named
from service.music.licks import Change
from service.music.meter import METER_NAMES, meter_named
from service.music.passages import Passage
from service.music.tunes import Measure
from service.notation.chart import Chart, read_chart, write_chart
from service.notation.one_line import read_one_line, write_one_line
from service.notation.tab_reader import read_tab
from service.notation.tab_writer import write_tab
from service.wording import say
from tests.strategies import CHORDS, passages

LAYOUTS = [(28, True), (80, False), (120, False)]


@pytest.mark.parametrize(("width", "phone"), LAYOUTS, ids=["phone", "80 wide", "120 wide"])
@given(passage=passages())
def test_a_written_tab_reads_back_to_the_same_notes_and_chords(
    width: int, phone: bool, passage: Passage
) -> None:
    text = write_tab(passage, width=width, phone=phone)
    reading = read_tab(text, passage.instrument)
    assert reading.passage == passage
    assert write_tab(reading.passage, width=width, phone=phone) == text


@pytest.mark.parametrize(("width", "phone"), LAYOUTS, ids=["phone", "80 wide", "120 wide"])
@given(passage=passages(), data=st.data())
def test_a_tab_with_remarks_reads_back_as_if_there_were_none(
    width: int, phone: bool, passage: Passage, data: st.DataObject
) -> None:
    measures = data.draw(st.sets(st.integers(1, len(passage.measures)), min_size=1))
    remarks = {n: say("rest-stands", {"measure": n, "lick": 40 + n}) for n in measures}
    text = write_tab(passage, width=width, phone=phone, remarks=remarks)
    assert read_tab(text, passage.instrument).passage == passage
    assert max(map(len, text.splitlines())) <= width
    said = " ".join(text.split())
    assert all(remark in said for remark in remarks.values())


@given(passages())
def test_no_line_of_the_phone_layout_is_longer_than_28_columns(passage: Passage) -> None:
    assert max(len(line) for line in write_tab(passage).splitlines()) <= 28


@given(passages())
def test_what_was_written_needs_no_guess_but_the_columns(passage: Passage) -> None:
    warnings = read_tab(write_tab(passage), passage.instrument).warnings
    assert [w.code for w in warnings] in ([], ["assumed"])
    assert {part["what"] for w in warnings for part in w.params["parts"]} <= {"columns"}  # type: ignore[attr-defined]


@given(passages(fingers=False))
def test_the_one_line_form_reads_back_to_the_same_notes_and_chords(passage: Passage) -> None:
    line = write_one_line(passage)
    reading = read_one_line(line, passage.instrument, tuning=passage.tuning.id, meter=passage.meter.name)
    assert reading.passage.notes == passage.notes
    assert reading.passage.changes == passage.changes
    assert reading.passage.measures == passage.measures
    assert reading.warnings == ()


@st.composite
def charts(draw: st.DrawFn) -> tuple[Chart, str]:
    meter = meter_named(draw(st.sampled_from(METER_NAMES)))
    sections = []
    for name in draw(
        st.lists(st.sampled_from(["A", "B", "C", "Bridge"]), min_size=1, max_size=4, unique=True)
    ):
        measures = []
        for _ in range(draw(st.integers(1, 9))):
            ticks = draw(st.sampled_from([meter.measure_ticks] * 4 + [meter.slot_ticks * 4]))
            even = [n for n in (1, 2, 3, 4) if ticks % n == 0 and (meter.name != "9/8" or n != 2)]
            parts = draw(st.sampled_from(even))
            onsets = sorted({0} | draw(st.sets(st.integers(0, parts - 1))))
            measures.append(
                Measure(
                    ticks,
                    tuple(
                        Change(n * ticks // parts, chord_named(draw(st.sampled_from(CHORDS)))) for n in onsets
                    ),
                )
            )
        sections.append((name, tuple(measures)))
    order = draw(st.lists(st.sampled_from([name for name, _ in sections]), min_size=1, max_size=6))
    return Chart(tuple(sections), tuple(order)), meter.name


@given(charts())
def test_a_written_chart_reads_back_to_the_same_measures(drawn: tuple[Chart, str]) -> None:
    chart, meter = drawn
    assert read_chart(write_chart(chart, meter_named(meter)), meter_named(meter)) == chart
