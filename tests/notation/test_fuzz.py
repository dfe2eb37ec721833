"""Whatever is thrown at the readers, they answer or raise their own error, with places inside the text."""

import re
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import DomainError, ReadingError
from service.music.harmony import key_named
from service.music.instruments import all_instruments
from service.music.meter import METER_NAMES, meter_named
from service.notation.abc import read_melody
from service.notation.chart import read_chart
from service.notation.readings import Reading
from service.notation.tab_reader import read_tab
from service.notation.tab_writer import write_tab
from service.usecases.readings import read_any
from service.wording import said
from tests.strategies import passages

TAB_CHARS = "0123456789---||||hps/\\bx()=~^tT :*.<>[]{}\n\r\t GCDEm#♭%1.—–│║\u00a0\u200b６"
LINE_CHARS = "12345.,;-'()hp/=cgxtGD7m :\n"
CHART_CHARS = "|| GCDEmbgad#7/%.()12468:;order AB\n…–—½♭“”｜Ａ"
MELODY_CHARS = "ABCDEFGabcdefgz|^_=,'/0123456789- :\n#♭♯♮’…–—½｜"


def _answers(read: Callable[[], object], text: str) -> None:
    error = _own_error(read)
    if isinstance(error, ReadingError):
        lines = len(re.split("\r\n|[\r\n\u2028\u2029]", text))
        assert error.at
        for fault in error.at:
            assert said(fault)
            assert fault.line is None or 1 <= fault.line <= lines
            assert fault.column is None or fault.column >= 1


def _own_error(read: Callable[[], object]) -> DomainError | None:
    """The reader's own error, if it raised one; any other goes through and fails the test.

    What was read can be said and written out again.
    """
    try:
        found = read()
    except DomainError as error:
        return error
    if isinstance(found, Reading):
        assert all(said(warning) for warning in found.warnings)
        assert len(found.warnings) <= 50
        back = read_tab(write_tab(found.passage), found.passage.instrument).passage
        assert back.notes == found.passage.notes
    return None


texts = st.one_of(st.text(), st.text(TAB_CHARS, max_size=300), st.text(LINE_CHARS, max_size=80))


@given(texts, st.sampled_from(all_instruments()), st.sampled_from([None, *METER_NAMES]),
       st.sampled_from([None, 1, 2, 9]), st.sampled_from([None, 8, 16]))  # fmt: skip
def test_the_lick_readers_raise_only_their_own_error(
    text: str, instrument: object, meter: str | None, measures: int | None, columns: int | None
) -> None:
    _answers(
        lambda: read_any(text, instrument.id, meter=meter, measures=measures, columns=columns),  # type: ignore[attr-defined]
        text,
    )


@given(passages(), st.data())
def test_a_damaged_tab_is_read_or_refused_by_its_own_error(passage: object, data: st.DataObject) -> None:
    text = write_tab(passage)  # type: ignore[arg-type]
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(text) - 1))
        text = (
            text[:at] + data.draw(st.text(TAB_CHARS, max_size=3)) + text[at + data.draw(st.integers(0, 2)) :]
        )
    _answers(lambda: read_any(text, passage.instrument.id), text)  # type: ignore[attr-defined]


@given(st.one_of(st.text(), st.text(CHART_CHARS, max_size=200)), st.sampled_from(METER_NAMES))
def test_the_chart_reader_raises_only_its_own_error(text: str, meter: str) -> None:
    _answers(lambda: read_chart(text, meter_named(meter), key_named("G")), text)


@given(st.one_of(st.text(), st.text(MELODY_CHARS, max_size=200)), st.sampled_from(METER_NAMES))
def test_the_melody_reader_raises_only_its_own_error(text: str, meter: str) -> None:
    _answers(lambda: read_melody(text, key_named("Bb"), meter_named(meter)), text)


@pytest.mark.parametrize(
    "text", ["", " ", "\n\n", "\ufeff", "|", "-", "1|", "9" * 5000, "1|" + "9" * 5000 + "|\n" * 5]
)
def test_scraps_are_refused_with_a_place(text: str) -> None:
    with pytest.raises(ReadingError) as caught:
        read_any(text, "banjo")
    assert caught.value.at[0].line == 1


def test_long_runs_of_marks_end_soon_and_show_a_bounded_number_of_faults() -> None:
    rows = {"digits": "12" * 9000, "noughts": "0" * 9000, "slides": "/" * 9000, "strange": "?" * 9000}
    for name, row in rows.items():
        text = "\n".join(f"1|--{row}--|" for _ in range(5))
        error = _own_error(lambda text=text: read_any(text, "banjo"))  # type: ignore[misc]
        assert isinstance(error, ReadingError), name
        assert len(error.at) <= 50


def test_a_run_of_digits_with_one_reading_is_read() -> None:
    from service.notation.tab_cells import _split_digits

    assert _split_digits("00", 22) == ["0", "0"]
    assert _split_digits("0909", 22) == ["0", "9", "0", "9"]
    assert _split_digits("100", 22) is None  # 10 and 0, or 1, 0, 0
    assert _split_digits("12", 22) == ["12"]
    assert _split_digits("35", 22) == ["3", "5"]
    assert _split_digits("3535", 22) == ["3", "5", "3", "5"]
