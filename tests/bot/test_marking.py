"""Marks in what somebody typed, and the text got back from them."""

from hypothesis import given
from hypothesis import strategies as st

from bot.commands.marking import fields_of, marked, unmarked
from schemas.base import Place

TAB = "1|-0--x--|\n2|-----z-|"


def _at(line: int | None, column: int | None = None, **more: str) -> Place:
    return Place(code="unknown-sign", text="That is no fret.", line=line, column=column, **more)


def test_a_caret_stands_below_what_cannot_be_read() -> None:
    assert marked(TAB, [_at(1, 7), _at(2, 8)]) == "1|-0--x--|\n      ^\n2|-----z-|\n       ^"


def test_two_places_of_a_line_share_a_line_of_carets() -> None:
    assert marked("1|-0--x--|", [_at(1, 4), _at(1, 7)]) == "1|-0--x--|\n   ^  ^"


def test_a_place_without_a_column_is_at_the_lines_first_sign() -> None:
    assert marked("  2|-0-|", [_at(1)]) == "  2|-0-|\n  ^"


def test_what_is_wrong_in_the_chords_marks_nothing_in_the_tab() -> None:
    assert marked(TAB, [_at(1, 3, path="chords"), _at(1, 3, excerpt="| H |")]) == TAB


def test_what_else_was_typed_stands_above_and_is_got_back() -> None:
    typed = {"name": "Crossing the creek", "comment": "Slow.\n\nThen fast.", "credit": ""}
    shown = marked(TAB, [_at(2, 8)], typed)
    assert shown.splitlines()[:4] == [
        "# name: Crossing the creek", "# comment: Slow.", "# comment: ", "# comment: Then fast.",
    ]  # fmt: skip
    assert unmarked(shown) == TAB
    assert fields_of(shown) == {"name": "Crossing the creek", "comment": "Slow.\n\nThen fast."}


LOOKALIKES = st.sampled_from(
    ["^", "  ^", "^^", "# name: x", "## x", "#", "# ", " ^ ^", "^^^ ", "\n", "1|-0-|", "#x"]
)
TEXTS = st.one_of(st.text(), st.lists(st.one_of(LOOKALIKES, st.text(alphabet=" ^#:-|x\n"))).map("\n".join))
PLACES = st.lists(
    st.builds(_at, st.integers(-1, 9) | st.none(), st.integers(-1, 40) | st.none()),
    max_size=6,
)
FIELDS = st.dictionaries(st.from_regex(r"[a-z][a-z-]{0,7}", fullmatch=True), TEXTS, max_size=3)


@given(TEXTS, PLACES, FIELDS)
def test_whatever_was_typed_is_got_back_unchanged(
    text: str, places: list[Place], fields: dict[str, str]
) -> None:
    shown = marked(text, places, fields)
    assert unmarked(shown) == text
    assert fields_of(shown) == {name: value for name, value in fields.items() if value}
