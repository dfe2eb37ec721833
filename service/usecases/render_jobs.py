"""What render workers do. Plain values in, bytes out; nothing here knows the service."""

from service.engrave.looks import LARGE_SCALE, PHONE, WIDE, Look, paper
from service.engrave.paint import THEMES
from service.engrave.sheets import Sheet, laid_out
from service.engrave.svg import write_svg
from service.engrave.typeset import write_pdf, write_png
from service.usecases.renders import Files

SCREENS = {"phone": PHONE, "wide": WIDE}


def screen(layout: str, *, large: bool = False) -> Look:
    """The look of a screen; large print has fewer measures to a line."""
    look = SCREENS[layout]
    return (
        Look(look.width, look.margin, look.scale * LARGE_SCALE, look.height, look.systems) if large else look
    )


def svg_pages(sheet: Sheet, layout: str, theme: str, large: bool) -> Files:
    pages = laid_out(sheet, screen(layout, large=large))
    return Files(tuple(write_svg(page, THEMES[theme]).encode() for page in pages))


def png_pages(sheet: Sheet, layout: str, theme: str, large: bool) -> Files:
    pages = laid_out(sheet, screen(layout, large=large))
    return Files(tuple(write_png(page, THEMES[theme]) for page in pages))


def pdf_sheet(sheet: Sheet, paper_name: str, large: bool) -> Files:
    return Files((write_pdf(laid_out(sheet, paper(paper_name, large=large))),))
