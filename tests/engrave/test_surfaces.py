"""One layout, three surfaces: what a browser makes of the SVG is what the PNG shows and the PDF holds."""

import io
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pypdf
import pytest
from numpy.typing import NDArray
from PIL import Image
from skimage.metrics import structural_similarity

from service.engrave.bands import Options
from service.engrave.looks import PHONE, paper
from service.engrave.paint import LINE, THEMES, Line, Picture, Text
from service.engrave.sheets import Music, Shapes, Sheet, Tempo, Title, laid_out
from service.engrave.svg import write_svg
from service.engrave.typeset import write_pdf, write_png
from service.music.harmony import chord_named
from service.music.scores import Score
from tests.engrave.scores import passage_of, score_of
from tests.support import missing_part

SCALE = 3
ALIKE = 0.97  # structural similarity; measured .978, and .962 at most where the fonts are missing
BROWSERS = ("chromium", "chromium-browser", "google-chrome")


def _score(meter: str = "2/2") -> Score:
    if meter == "3/4":
        return score_of(passage_of("3 2 1 5 3 2, t321 5- 3.2-", "| G | D7 |", "3/4"))
    return score_of(passage_of("5 1; 3 2 5 1 4 4.h2 5 1, 1.12 2.10 p0 5 (15)- 3.2 /4", "| G | Bbmaj7 |"))


def _pages(score: Score) -> tuple[Picture, ...]:
    chords = tuple(chord for name in ("G", "C", "D7") if (chord := chord_named(name)))
    instrument = score.passage.instrument
    blocks = (
        Title(score.title, ("five-string banjo · Größe, niño, Ðr",)),
        Tempo(score.beat),
        Shapes(chords, instrument, score.passage.tuning),
        Music(score, Options(notation=True)),
    )
    return laid_out(Sheet(score.title, "in words", "{page} of {pages}", blocks), PHONE)


def _grey(png: bytes) -> NDArray[np.uint8]:
    return np.asarray(Image.open(io.BytesIO(png)).convert("L"))


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("meter", ["2/2", "3/4"])
def test_a_browser_draws_the_svg_as_the_png_shows_it(tmp_path: Path, theme: str, meter: str) -> None:
    browser = next((found for name in BROWSERS if (found := shutil.which(name))), None)
    if browser is None:
        missing_part("needs a Chromium to draw the SVG")
    (picture,) = _pages(_score(meter))
    ours = _grey(write_png(picture, THEMES[theme], SCALE))
    source, shot = tmp_path / "tab.svg", tmp_path / "shot.png"
    source.write_text(write_svg(picture, THEMES[theme]))
    subprocess.run(
        [
            browser, "--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run",
            "--hide-scrollbars", f"--user-data-dir={tmp_path / 'profile'}", f"--force-device-scale-factor={SCALE}",
            f"--window-size={round(picture.width)},{int(picture.height) + 1}", f"--screenshot={shot}", source.as_uri(),
        ],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    theirs = _grey(shot.read_bytes())
    height = min(ours.shape[0], theirs.shape[0]) - SCALE
    assert height > 0.95 * ours.shape[0]
    assert structural_similarity(ours[:height], theirs[:height]) > ALIKE


def test_a_pdf_holds_its_words_in_its_own_fonts_and_says_what_it_shows() -> None:
    score = _score()
    pages = laid_out(
        Sheet(score.title, "in words", "{page} of {pages}", (Title(score.title), Music(score))), paper()
    )
    reader = pypdf.PdfReader(io.BytesIO(write_pdf(pages)))
    text = reader.pages[0].extract_text()
    for wanted in ("Gate at Low Water", "B♭maj7", "12", "10", "7 Lantern on the lock"):
        assert wanted in text, wanted
    fonts = [font.get_object()["/BaseFont"] for font in reader.pages[0]["/Resources"]["/Font"].values()]
    assert fonts
    assert all("BreakwrightSans" in font for font in fonts)
    assert (
        reader.trailer["/Root"]["/MarkInfo"]["/Marked"] is True or reader.trailer["/Root"]["/StructTreeRoot"]
    )


def test_letters_leave_ink_where_they_are_set() -> None:
    """A font that is missing would be another one without a word, or none: digits must be as wide as they were measured."""
    from service.engrave.letters import width_of

    text = "0123456789 ♯♭"
    picture = Picture(300, 40, [Text(10, 30, 20, text)], "x", "y")
    image = _grey(write_png(picture, THEMES["light"], SCALE))
    inked = np.flatnonzero((image < 128).any(axis=0))
    assert inked[0] / SCALE == pytest.approx(10, abs=2)
    assert inked[-1] / SCALE == pytest.approx(10 + width_of(text, 20), abs=3)


def test_a_zero_has_no_stroke_through_it() -> None:
    """On a string it would look like a mute."""
    picture = Picture(60, 60, [Text(20, 45, 40, "0")], "x", "y")
    image = _grey(write_png(picture, THEMES["light"], SCALE))
    rows, columns = np.nonzero(image < 128)
    middle = image[(rows.min() + rows.max()) // 2, (columns.min() + columns.max()) // 2]
    assert middle > 200


def test_what_is_typed_into_a_title_reaches_typst_as_text_alone() -> None:
    hostile = '#image("/etc/passwd") $x$ \\u{1F600} </svg>'
    picture = Picture(500, 60, [Text(10, 40, 12, hostile), Line(0, 50, 500, 50, 1, LINE)], hostile, hostile)
    reader = pypdf.PdfReader(io.BytesIO(write_pdf([picture])))
    assert '#image("/etc/passwd")' in reader.pages[0].extract_text()
    assert reader.metadata.title == hostile
