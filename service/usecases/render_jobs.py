"""What render workers do. Plain values in, bytes out; nothing here knows the service."""

from functools import cache

from service.engrave.looks import LARGE_SCALE, PHONE, WIDE, Look, paper
from service.engrave.paint import THEMES
from service.engrave.sheets import Sheet, laid_out
from service.engrave.svg import write_svg
from service.engrave.typeset import write_pdf, write_png
from service.music.scores import Score
from service.sound.encoding import encoded
from service.sound.notes import NoteCache
from service.sound.playing import play
from service.usecases.playing import Wanted, plan_of
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


@cache
def _notes() -> NoteCache:
    """Kept by each worker: the same string at the same pitch sounds the same in every file."""
    return NoteCache()


def sound_files(score: Score, wanted: Wanted, kind: str, limit_bytes: int) -> Files:
    """The score as sound, in as many files as the limit asks for. Raises what planning raises."""
    sound = play(plan_of(score, wanted), _notes())
    made = encoded(sound, kind, limit_bytes)
    return Files(
        tuple(file.data for file in made),
        {
            "seconds": [round(file.seconds, 3) for file in made],
            "rounds": [list(file.rounds) for file in made],
            "tempos": [[bpm, round(float(at), 3)] for bpm, at in sound.tempos],
        },
    )
