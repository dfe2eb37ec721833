"""What is typed at a terminal, read as calls."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.book import Book, Command, Option
from bot.keyboard import next_words
from bot.replies import Answer, Call, Reply
from bot.trouble import Unusable
from bot.typed import read_line

TUNES = {"heron-ferry": "Heron Ferry", "millers-mitten": "Miller's Mitten", "thimble-creek": "Thimble Creek"}
TUNE = Option("tune", "tune", "Which tune.", "t", required=True)
PHRASE = Option("phrase", "phrase", "Which phrase.", "p", required=True)


async def _run() -> Answer:
    return Reply()


BOOK = Book(
    {"break": "Breaks.", "lick": "Licks."},
    [
        Command(
            "break random", "A break.", _run,
            (
                TUNE,
                Option("level", "whole", "At most.", "l"),
                Option("style", "choice", "Of a style.", "y", choices=("roll", "melodic")),
                Option("no-repeats", "yes", "No lick twice.", "n"),
            ),
        ),
        Command("break swaps", "Pressed, never typed.", _run, (), listed=False),
        Command("challenge set", "A challenge.", _run, (TUNE, PHRASE, Option("note", "text", "A word.", "o"))),
        Command("lick show", "A lick.", _run, (Option("lick", "lick", "Which.", "n", required=True),)),
        Command("lick search", "Licks.", _run, (Option("words", "text", "Words.", "w", required=True),)),
        Command("favourites", "The best liked.", _run),
    ],
)  # fmt: skip


def _read(line: str) -> Call | None:
    return read_line(line, BOOK, "en", lambda: TUNES)


@pytest.mark.parametrize(
    ("line", "command", "given"),
    [
        ("break random heron-ferry", "break random", {"tune": "heron-ferry"}),
        ("  BREAK   Random Heron-Ferry ", "break random", {"tune": "heron-ferry"}),
        ("break random Heron Ferry", "break random", {"tune": "heron-ferry"}),
        ("break random Miller's Mitten level=2", "break random", {"tune": "millers-mitten", "level": "2"}),
        ("break random 'Heron Ferry'", "break random", {"tune": "heron-ferry"}),
        ("break random level 2 style melodic heron-ferry", "break random",
         {"tune": "heron-ferry", "level": "2", "style": "melodic"}),
        ("break random style=melodic tune=heron-ferry", "break random", {"tune": "heron-ferry", "style": "melodic"}),
        ("break random heron-ferry no-repeats", "break random", {"tune": "heron-ferry", "no-repeats": "yes"}),
        ("break random heron-ferry no-repeats no level=2", "break random",
         {"tune": "heron-ferry", "no-repeats": "no", "level": "2"}),
        ("break random heron-ferry no-repeats level 2", "break random",
         {"tune": "heron-ferry", "no-repeats": "yes", "level": "2"}),
        ("challenge set Heron Ferry 3", "challenge set", {"tune": "heron-ferry", "phrase": "3"}),
        ("challenge set thimble-creek 3 note=\"Slow, and even\"", "challenge set",
         {"tune": "thimble-creek", "phrase": "3", "note": "Slow, and even"}),
        ("challenge set phrase=3 thimble-creek note “a = b”", "challenge set",
         {"tune": "thimble-creek", "phrase": "3", "note": "a = b"}),
        ("lick show 42", "lick show", {"lick": "42"}),
        ("lick show 42 Counting the piles", "lick show", {"lick": "42 Counting the piles"}),
        ("lick search rolling home", "lick search", {"words": "rolling home"}),
        ("lick search \"words in words\"", "lick search", {"words": "words in words"}),
        ("favourites", "favourites", {}),
    ],
)  # fmt: skip
def test_a_line_is_read_as_a_call(line: str, command: str, given: dict[str, str]) -> None:
    assert _read(line) == Call(command, given)


def test_an_empty_line_calls_nothing() -> None:
    assert _read("   ") is None


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("brek random heron-ferry", "I know no “brek”. Did you mean break random?"),
        ("break randm", "I know no “break randm”. Did you mean break random?"),
        ("break swaps", "I know no “break swaps”. Did you mean break random?"),
        ("lick", "“lick” wants a second word: show, search."),
        ("xyzzy", "I know no “xyzzy”. Type help to see what there is."),
        ("favorites", "I know no “favorites”. Did you mean favourites?"),
        ("favourites 3", "favourites has no use for “3”. It takes nothing more."),
        ("break random heron-fery", "There is no tune “heron-fery” here. Did you mean heron-ferry?"),
        ("break random zzz",
         "There is no tune “zzz” here. Did you mean heron-ferry, millers-mitten or thimble-creek?"),
        ("break random heron-ferry levl=2", "break random has no use for “levl”. Did you mean level?"),
        ("break random heron-ferry levl 2", "break random has no use for “levl”. Did you mean level?"),
        ("break random heron-ferry melodic", "break random has no use for “melodic”. Did you mean style=melodic?"),
        ("break random heron-ferry 3",
         "break random has no use for “3”. It takes tune, level, style, no-repeats."),
        ("challenge set heron-ferry 3 4", "challenge set has no use for “4”. It takes tune, phrase, note."),
        ("break random heron-ferry level", "What level shall it be? Type it behind the word."),
        ('lick search "rolling', "The quote before “rolling” does not end."),
    ],
)  # fmt: skip
def test_a_word_that_cannot_be_used_is_named_with_what_could_be_meant(line: str, says: str) -> None:
    with pytest.raises(Unusable) as raised:
        _read(line)
    assert raised.value.text == says


def test_where_tunes_cannot_be_told_a_name_goes_to_the_service_as_it_stands() -> None:
    assert read_line("break random Heron Ferry level=2", BOOK) == Call(
        "break random", {"tune": "Heron Ferry", "level": "2"}
    )
    assert read_line("challenge set heron-ferry 3", BOOK) == Call(
        "challenge set", {"tune": "heron-ferry", "phrase": "3"}
    )


PIECES = st.sampled_from(
    ["break", "random", "lick", "search", "challenge", "set", "=", "level", "level=", "'", '"', "“", "”", " ", "\n",
     "heron-ferry", "Miller's", "3", "no-repeats", "tune=", "“„", "{x}", "%s"]
)  # fmt: skip


@given(
    st.one_of(
        st.text(),
        st.lists(st.one_of(PIECES, st.text(max_size=3))).map(" ".join),
        st.lists(PIECES).map("".join),
    )
)
def test_whatever_is_typed_is_a_call_of_the_book_or_one_sentence(line: str) -> None:
    for tunes in (TUNES, {}):
        call, said = _call_or_sentence(line, tunes)
        command = None if call is None else BOOK.find(call.command)
        assert (call is None) == (bool(said) or not line.strip())
        assert call is None or (command is not None and command.listed)
        assert command is None or set(call.given) <= {option.name for option in command.options}  # type: ignore[union-attr]


def _call_or_sentence(line: str, tunes: dict[str, str]) -> tuple[Call | None, str]:
    try:
        return read_line(line, BOOK, "en", lambda: tunes), ""
    except Unusable as unusable:
        return None, unusable.text


@given(st.text().filter(lambda text: '"' not in text))
def test_a_text_in_quotes_comes_through_unchanged(text: str) -> None:
    call = _read(f'lick search words="{text}"')
    assert call == Call("lick search", {"words": text})


def test_tab_offers_what_can_come_next() -> None:
    assert next_words(BOOK, "") == ["break ", "challenge ", "lick ", "favourites "]
    assert next_words(BOOK, "lick ") == ["show ", "search "]
    assert next_words(BOOK, "break random heron-ferry ") == ["tune=", "level=", "style=", "no-repeats="]
