"""Pictures as PNG and PDF: the SVG of each page, set by typst with fonts of the house alone.

The template is fixed; pages and words go in as inputs, never as markup. Called in a render worker: it takes tens of milliseconds.
"""

import tempfile
from collections.abc import Sequence
from functools import cache

import typst

from service.engrave.letters import font_folder
from service.engrave.paint import THEMES, Picture, Theme
from service.engrave.svg import write_svg

POINTS_PER_INCH = 72
# Pixels a point; ours. A page of eight systems fills a phone's height of 844 points three pixels each when it is about 880 pixels
# wide; drawn across the whole width it looked the same as with three pixels a point, which take half as long again.
PNG_SCALE = 2.25
FORGOTTEN_AFTER = 12  # compilations of nothing after which memory was measured to stay as it is
_TEMPLATE = b"""
#set document(title: sys.inputs.title, author: "Breakwright", date: none)
#for i in range(int(sys.inputs.pages)) {
  let p = "p" + str(i)
  page(
    width: float(sys.inputs.at(p + "w")) * 1pt,
    height: float(sys.inputs.at(p + "h")) * 1pt,
    margin: 0pt,
    image(bytes(sys.inputs.at(p)), format: "svg", width: 100%, alt: sys.inputs.at(p + "a")),
  )
}
"""


@cache
def _compiler() -> typst.Compiler:
    """Made once in each process; its root is a folder that is gone again, so that nothing can be read from the disk."""
    fonts = typst.Fonts(
        include_system_fonts=False, include_embedded_fonts=True, font_paths=[str(font_folder())]
    )
    with tempfile.TemporaryDirectory() as root:
        return typst.Compiler(root=root, font_paths=fonts)


def _inputs(pictures: Sequence[Picture], theme: Theme) -> dict[str, str]:
    found = {"title": pictures[0].title, "pages": str(len(pictures))}
    for index, picture in enumerate(pictures):
        page = f"p{index}"
        found |= {
            page: write_svg(picture, theme, fonts=False),
            f"{page}w": f"{picture.width:.2f}",
            f"{page}h": f"{picture.height:.2f}",
            f"{page}a": picture.description,
        }
    return found


def forget_pictures() -> None:
    """Lets typst forget what it drew: it keeps each picture, pixels and all, for some compilations more, hundreds of MB of them."""
    for _ in range(FORGOTTEN_AFTER):
        _compiler().compile(b"", format="pdf")


def write_png(picture: Picture, theme: Theme, scale: float = PNG_SCALE) -> bytes:
    """One page as PNG, ``scale`` pixels a point."""
    made = _compiler().compile(
        _TEMPLATE, format="png", ppi=POINTS_PER_INCH * scale, sys_inputs=_inputs((picture,), theme)
    )
    return made if isinstance(made, bytes) else made[0]  # type: ignore[index]


def write_pdf(pictures: Sequence[Picture]) -> bytes:
    """All pages as one PDF: text stays text, fonts are embedded, each page has its description. For paper, so light."""
    made = _compiler().compile(_TEMPLATE, format="pdf", sys_inputs=_inputs(pictures, THEMES["light"]))
    if not isinstance(made, bytes):
        raise TypeError("a PDF is one file")
    return made
