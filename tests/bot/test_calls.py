"""What a button carries: a call as text of a hundred characters, and back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.calls import LONGEST, TooLong, read, written
from bot.replies import Call

SHORT = {"tune": "t", "level": "l", "favour": "f"}
values = st.text(max_size=12)


def test_a_call_is_short_and_can_be_read() -> None:
    call = Call("break random", {"tune": "heron-ferry", "level": "2"})
    assert written(call, SHORT, "bwabc") == "b1:break random?t=heron-ferry&l=2#bwabc"
    assert read("b1:break random?t=heron-ferry&l=2#bwabc") == (
        Call("break random", {"t": "heron-ferry", "l": "2"}),
        "bwabc",
    )


def test_in_direct_messages_it_says_which_group() -> None:
    text = written(Call("lesson list", {}, "ferry-lane"), {})
    assert text == "b1:lesson list@ferry-lane"
    assert read(text) == (Call("lesson list", {}, "ferry-lane"), "")


@given(
    st.dictionaries(st.sampled_from(["tune", "level", "favour", "other"]), values),
    st.sampled_from(["", "bwq7"]),
)
def test_whatever_is_carried_comes_back(given: dict[str, str], mark: str) -> None:
    try:
        text = written(Call("break random", given), SHORT, mark)
    except TooLong:
        return
    assert len(text) <= LONGEST
    found = read(text)
    assert found is not None
    long = {short: name for name, short in SHORT.items()}
    assert {long.get(name, name): value for name, value in found[0].given.items()} == given
    assert found[1] == mark


def test_what_does_not_fit_is_refused() -> None:
    with pytest.raises(TooLong):
        written(Call("break random", {"tune": "x" * 90}), SHORT)


@pytest.mark.parametrize("text", ["", "b0:break random", "break random?t=x", "menu1#", "x" * 100])
def test_of_another_version_nothing_is_read(text: str) -> None:
    assert read(text) is None


@given(st.text(max_size=120))
def test_reading_never_fails(text: str) -> None:
    read(text)
