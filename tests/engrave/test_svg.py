"""The SVG: well formed, accessible, safe, with every digit where a player looks for it."""

import xml.etree.ElementTree as ET
from collections import Counter

import pytest
from hypothesis import given

from service.engrave.bands import Options
from service.engrave.letters import symbol_path, symbol_width
from service.engrave.looks import PHONE
from service.engrave.paint import THEMES, Glyph, Picture, Text
from service.engrave.sheets import Credits, Music, Sheet, Tempo, Title, laid_out
from service.engrave.svg import write_svg
from service.music.passages import Passage
from service.music.scores import Repeat, Score, Section, Span
from tests.engrave.scores import ROLL, passage_of, score_of
from tests.strategies import passages

SVG = "{http://www.w3.org/2000/svg}"


PLAIN = Options()


def _sheet(score: Score, options: Options = PLAIN) -> Sheet:
    blocks = (
        Title(score.title, ("banjo",)),
        Tempo(score.beat),
        Music(score, options),
        Credits(("Traditional.",)),
    )
    return Sheet(score.title, "in words", "page {page} of {pages}", blocks)


def _texts(svg: str) -> list[str]:
    return ["".join(node.itertext()) for node in ET.fromstring(svg).iter(f"{SVG}text")]


def _drawn(score: Score, options: Options = PLAIN) -> str:
    return "".join(write_svg(page, THEMES["light"]) for page in laid_out(_sheet(score, options), PHONE)[:1])


def test_it_says_what_it_is_to_those_who_cannot_see_it() -> None:
    root = ET.fromstring(_drawn(score_of(passage_of(ROLL, "| G | G |"))))
    assert root.get("role") == "img"
    assert root.find(f"{SVG}title").text == "Gate at Low Water"
    assert root.find(f"{SVG}desc").text == "in words"
    assert root.get("aria-labelledby") == "t d"


@pytest.mark.parametrize(
    "title", ["</text><script>alert(1)</script>", '"&<>', "x\x00\x0b\ud800"[:2], "a]]>b"]
)
def test_what_people_type_is_text_and_nothing_else(title: str) -> None:
    svg = _drawn(score_of(passage_of(ROLL, "| G | G |"), title=title))
    root = ET.fromstring(svg)
    assert not list(root.iter(f"{SVG}script"))
    assert "<script" not in svg
    assert title.replace("\x00", "") in "".join(_texts(svg)[:3])


@given(passages())
def test_every_fret_of_a_passage_is_there(passage: Passage) -> None:
    score = Score("x", passage, score_of(passage_of(ROLL, "| G | G |")).key, score_of(passage).beat)
    picture = laid_out(_sheet(score), PHONE)
    digits = Counter(
        mark.text.strip("()")
        for page in picture
        for mark in page.marks
        if isinstance(mark, Text) and mark.halo and mark.text not in ("h", "p")
    )
    wanted = Counter(
        "x" if n.technique == "mute" else str(n.fret) for n in passage.notes if n.technique != "tie"
    )
    assert not wanted - digits
    for page in picture:
        assert "nan" not in write_svg(page, THEMES["dark"])


def test_a_line_of_music_shows_what_players_need() -> None:
    """Chords, measure numbers, section, lick, fingers, technique letters, tempo with its beat, credits."""
    passage = passage_of("3 2 5 1 4 4.h2 5 1, 3.2 p0 2 5 1 5 3 2", "| G | Bb7 |")
    texts = _texts(_drawn(score_of(passage)))
    for wanted in (
        "G",
        "B♭7",
        "1",
        "2",
        "A",
        "7 Lantern on the lock",
        "h",
        "p",
        " = 84",
        "Traditional.",
        "Gate at Low Water",
    ):
        assert wanted in texts, wanted
    assert [t for t in texts if t in ("D", "B", "G", "g")][:5].count("D") == 2  # the open strings


def test_the_twelve_of_twelve_eight_has_two_digits_over_the_middle_of_the_eight() -> None:
    passage = passage_of("321521321521", "| G |", "12/8")
    (page,) = laid_out(_sheet(score_of(passage)), PHONE)
    glyphs = [mark for mark in page.marks if isinstance(mark, Glyph) and mark.name.startswith("timeSig")]
    one, two, eight = glyphs
    assert [glyph.name for glyph in glyphs] == ["timeSig1", "timeSig2", "timeSig8"]
    assert one.y == two.y < eight.y
    assert two.x == pytest.approx(one.x + symbol_width("timeSig1", one.space))
    right = two.x + symbol_width("timeSig2", one.space)
    assert eight.x + symbol_width("timeSig8", one.space) / 2 == pytest.approx((one.x + right) / 2)


def test_endings_and_repeats_are_drawn() -> None:
    passage = passage_of(", ".join(["32514251"] * 6), "| G " * 6 + "|")
    score = score_of(passage, repeats=(Repeat(0, 3, 3),), phrases=())
    texts = _texts(_drawn(score))
    assert "1." in texts
    assert "2." in texts
    dots = _drawn(score).count("<circle")
    assert dots >= 4  # two at either sign


def test_a_crooked_measure_says_how_long_it_is() -> None:
    passage = passage_of("32514251, 3251; 32514251", "| G | (1/2) G | G |")
    texts = _texts(_drawn(score_of(passage, phrases=())))
    assert texts.count("(1/2)") == 1


def test_left_fingers_come_on_demand() -> None:
    passage = passage_of("3.2 2 5 1 3.2 2 5 1", "| G |")
    left = {(n.onset, n.string): 2 for n in passage.notes if n.fret}
    with_them = Counter(_texts(_drawn(score_of(passage, left=left), Options(left_fingers=True))))
    without = Counter(_texts(_drawn(score_of(passage, left=left))))
    assert with_them["2"] == without["2"] + 2


def test_a_rest_of_a_lick_taken_down_is_labelled() -> None:
    passage = passage_of("32514251, 32514251", "| G | G |")
    spans = (Span(0, 3840, "Lick 3 was taken down.", rest=True),)
    assert "Lick 3 was taken down." in _texts(_drawn(score_of(passage, phrases=spans)))


def test_the_notation_staff_spells_in_the_position() -> None:
    """Third string fret 3 over G is B flat beside an F sharp in the signature: one flat, one sharp, no natural."""
    passage = passage_of("3.3 1 5 1 3.3 1 5 1", "| G |")
    svg = _drawn(score_of(passage), Options(notation=True))
    assert svg.count(symbol_path("accidentalFlat")) == 1  # it lasts to the bar line
    assert svg.count(symbol_path("accidentalSharp")) == 1


def test_contrast_is_enough_in_both_themes() -> None:
    """WCAG 2.2 (published): 4.5 to 1 for text."""

    def light(colour: str) -> float:
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    for theme in THEMES.values():
        for role in ("ink", "soft", "accent"):
            for ground in ("paper", "tint"):
                one, other = sorted((light(theme.colour(role)), light(theme.colour(ground))))
                assert (other + 0.05) / (one + 0.05) >= 4.5, (theme.name, role, ground)


def test_sections_and_pages_are_cut_at_eight_systems() -> None:
    passage = passage_of(", ".join(["32514251"] * 40), "| G " * 40 + "|")
    spans = tuple(Span(n * 3840, 3840, f"phrase {n + 1}") for n in range(20))
    pages = laid_out(_sheet(score_of(passage, phrases=spans, sections=(Section(0, "A"),))), PHONE)
    assert [isinstance(page, Picture) for page in pages] == [True] * 3
    assert "page 2 of 3" in _texts(write_svg(pages[1], THEMES["light"]))
