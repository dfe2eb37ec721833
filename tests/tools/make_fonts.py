"""Makes what service/engrave/fonts holds, from fonts under the SIL Open Font License:

    python -m tests.tools.make_fonts TEXT_FOLDER MUSIC_FONT

TEXT_FOLDER holds the woff2 files of Atkinson Hyperlegible Next (latin and latin-ext, 400 and 700), MUSIC_FONT is the OTF of a
SMuFL font. Needs `fonttools` and `brotli`. The results have names of their own, as the licence asks of changed fonts.
"""

import base64
import json
import sys
from array import array
from pathlib import Path

from fontTools.merge import Merger
from fontTools.misc.transform import Identity
from fontTools.pens.cu2quPen import Cu2QuPen
from fontTools.pens.svgPathPen import SVGPathPen
from fontTools.pens.transformPen import TransformPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont
from fontTools.ttLib.tables._g_l_y_f import Glyph, GlyphCoordinates
from fontTools.ttLib.tables.ttProgram import Program

FONTS = Path(__file__).resolve().parents[2] / "service" / "engrave" / "fonts"
FAMILY = "Breakwright Sans"
WEIGHTS = {"400": "Regular", "700": "Bold"}
# signs that text needs beside its letters: code point, glyph of the music font, height above the line in text units
SIGNS = {0x266F: (0xE262, 330), 0x266D: (0xE260, 190), 0x266E: (0xE261, 330)}
SIGN_SCALE = 1.15
STEMS = {"400": (78, 70), "700": (128, 112)}  # how thick a zero is drawn, at its sides and above and below
STAFF_SPACE = 250  # font units of a SMuFL font
# SMuFL code points (the published standard) by name
GLYPHS = {
    "gClef": 0xE050, "gClef8vb": 0xE052, "fClef": 0xE062, "noteheadWhole": 0xE0A2, "noteheadHalf": 0xE0A3,
    "noteheadBlack": 0xE0A4, "noteheadX": 0xE0A9, "augmentationDot": 0xE1E7, "flag8thUp": 0xE240, "flag8thDown": 0xE241,
    "flag16thUp": 0xE242, "flag16thDown": 0xE243, "flag32ndUp": 0xE244, "flag32ndDown": 0xE245, "accidentalFlat": 0xE260,
    "accidentalNatural": 0xE261, "accidentalSharp": 0xE262, "accidentalDoubleSharp": 0xE263, "accidentalDoubleFlat": 0xE264,
    "restWhole": 0xE4E3, "restHalf": 0xE4E4, "restQuarter": 0xE4E5, "rest8th": 0xE4E6, "rest16th": 0xE4E7,
    "rest32nd": 0xE4E8, "timeSigCommon": 0xE08A, "timeSigCutCommon": 0xE08B, "metNoteHalfUp": 0xECA3,
    "metNoteQuarterUp": 0xECA5, "metNote8thUp": 0xECA7, "metAugmentationDot": 0xECB7,
    **{f"timeSig{digit}": 0xE080 + digit for digit in range(10)},
}  # fmt: skip


def text_font(folder: Path, weight: str, music: TTFont) -> None:
    """One file of letters from two, with accidentals from the music font, as TTF for print and WOFF2 for the browser."""
    parts = [str(next(folder.glob(f"*-{script}-{weight}-normal.woff2"))) for script in ("latin", "latin-ext")]
    loose = []
    for index, part in enumerate(parts):
        font = TTFont(part)
        font.flavor = None
        for table in ("GPOS", "GSUB", "GDEF", "STAT", "DSIG"):
            if table in font:
                del font[table]
        path = Path("/tmp") / f"part-{weight}-{index}.ttf"
        font.save(path)
        loose.append(str(path))
    font = Merger().merge(loose)
    font.setGlyphOrder([*font.getGlyphOrder(), *(f"uni{point:04X}" for point in SIGNS)])
    glyphs, cmap = font["glyf"], music.getBestCmap()
    for point, (source, height) in SIGNS.items():
        name = f"uni{point:04X}"
        pen = TTGlyphPen(None)
        moved = Identity.translate(40, height).scale(SIGN_SCALE)
        drawn = music.getGlyphSet()[cmap[source]]
        drawn.draw(TransformPen(Cu2QuPen(pen, 1.0, reverse_direction=True), moved))
        glyphs[name] = pen.glyph()
        font["hmtx"][name] = (round(drawn.width * SIGN_SCALE) + 80, 40)
        for table in font["cmap"].tables:
            table.cmap[point] = name
    plain_zero(font, STEMS[weight])
    style = WEIGHTS[weight]
    font["name"].names = [record for record in font["name"].names if record.nameID in (0, 13, 14)]
    for number, text in {1: FAMILY, 2: style, 3: f"{FAMILY} {style}", 4: f"{FAMILY} {style}",
                         6: f"BreakwrightSans-{style}"}.items():  # fmt: skip
        font["name"].setName(text, number, 3, 1, 0x409)
    font["OS/2"].usWeightClass = int(weight)
    font.save(FONTS / f"breakwright-sans-{style.lower()}.ttf")
    widths = {chr(point): font["hmtx"][name][0] for point, name in font.getBestCmap().items() if point >= 32}
    (FONTS / f"widths-{style.lower()}.json").write_text(json.dumps(widths, ensure_ascii=False) + "\n")
    font.flavor = "woff2"
    font.save(FONTS / f"breakwright-sans-{style.lower()}.woff2")


def plain_zero(font: TTFont, stem: tuple[int, int]) -> None:
    """A zero without a stroke through it, which on a string would look like a muted note: its outline, hollowed out."""
    glyphs = font["glyf"]
    name = font.getBestCmap()[ord("0")]
    outline, ends, flags = (
        glyphs[name].getCoordinates(glyphs)[0],
        glyphs[name].endPtsOfContours,
        glyphs[name].flags,
    )
    contours, first = [], 0
    for end in ends:
        contours.append((list(outline[first : end + 1]), list(flags[first : end + 1])))
        first = end + 1
    points, kinds = max(contours, key=lambda c: max(x for x, _ in c[0]) - min(x for x, _ in c[0]))
    left, right = min(x for x, _ in points), max(x for x, _ in points)
    low, high = min(y for _, y in points), max(y for _, y in points)
    middle, centre = (left + right) / 2, (low + high) / 2
    thinner = (1 - 2 * stem[0] / (right - left), 1 - 2 * stem[1] / (high - low))
    inner = [(middle + (x - middle) * thinner[0], centre + (y - centre) * thinner[1]) for x, y in points]
    made = Glyph()
    made.numberOfContours = 2
    made.coordinates = GlyphCoordinates([*points, *((round(x), round(y)) for x, y in reversed(inner))])
    made.flags = array("B", [*kinds, *reversed(kinds)])
    made.endPtsOfContours = [len(points) - 1, 2 * len(points) - 1]
    made.program = Program()
    made.program.fromBytecode(b"")
    glyphs[name] = made
    made.recalcBounds(glyphs)


def music_glyphs(music: TTFont) -> None:
    """Outlines as SVG paths, in thousandths of a staff space, y down, with the width of each."""
    cmap, glyphs = music.getBestCmap(), music.getGlyphSet()
    found = {}
    for name, point in GLYPHS.items():
        drawn = glyphs[cmap[point]]
        pen = SVGPathPen(glyphs, ntos=lambda number: str(round(number)))
        scale = 1000 / STAFF_SPACE
        drawn.draw(TransformPen(pen, (scale, 0, 0, -scale, 0, 0)))
        found[name] = [round(drawn.width * scale), pen.getCommands()]
    (FONTS / "music.json").write_text(
        "{\n" + ",\n".join(f'"{n}": {json.dumps(v)}' for n, v in found.items()) + "\n}\n"
    )


def main() -> None:
    folder, music = Path(sys.argv[1]), TTFont(sys.argv[2])
    for weight in WEIGHTS:
        text_font(folder, weight, music)
    music_glyphs(music)
    print({path.name: len(base64.b64encode(path.read_bytes())) for path in sorted(FONTS.iterdir())})


if __name__ == "__main__":
    main()
