"""What render workers do. Plain values in, files out, kept one by one; nothing here knows the service."""

import gc
from functools import cache

from service.engrave.looks import LARGE_SCALE, PHONE, WIDE, Look, paper
from service.engrave.paint import THEMES, Picture
from service.engrave.plots import Plot, drawn_plot
from service.engrave.sheets import Sheet, laid_out
from service.engrave.svg import write_svg
from service.engrave.typeset import forget_pictures, write_pdf, write_png
from service.music.scores import Score
from service.sound.encoding import files
from service.sound.notes import NoteCache
from service.sound.playing import play
from service.usecases.playing import Wanted, plan_of
from service.usecases.renders import Facts, Keep

NOTES_BYTES = 20 << 20  # of strings that a worker keeps; ours: those of one play-along
SCREENS = {"phone": PHONE, "wide": WIDE}


def screen(layout: str, *, large: bool = False) -> Look:
    """The look of a screen; large print has fewer measures to a line."""
    look = SCREENS[layout]
    return (
        Look(look.width, look.margin, look.scale * LARGE_SCALE, look.height, look.systems) if large else look
    )


def ready() -> None:
    """Before the first job: fonts are read, and what is there for good is not looked at again by the collector of garbage."""
    write_png(Picture(1.0, 1.0, (), "", ""), THEMES["light"])
    gc.collect()
    gc.freeze()


def svg_pages(keep: Keep, sheet: Sheet, layout: str, theme: str, large: bool) -> Facts:
    for page in laid_out(sheet, screen(layout, large=large)):
        keep(write_svg(page, THEMES[theme]).encode())
    return {}


def png_pages(keep: Keep, sheet: Sheet, layout: str, theme: str, large: bool) -> Facts:
    for page in laid_out(sheet, screen(layout, large=large)):
        keep(write_png(page, THEMES[theme]))
    forget_pictures()
    return {}


def png_plot(keep: Keep, plot: Plot, theme: str) -> Facts:
    keep(write_png(drawn_plot(plot), THEMES[theme]))
    forget_pictures()
    return {}


def pdf_sheet(keep: Keep, sheet: Sheet, paper_name: str, large: bool) -> Facts:
    keep(write_pdf(laid_out(sheet, paper(paper_name, large=large))))
    forget_pictures()
    return {}


@cache
def _notes() -> NoteCache:
    """Kept by each worker: the same string at the same pitch sounds the same in every file."""
    return NoteCache(NOTES_BYTES)


def sound_files(keep: Keep, score: Score, wanted: Wanted, kind: str, limit_bytes: int) -> Facts:
    """The score as sound, in as many files as the limit asks for. Raises what planning raises."""
    sound = play(plan_of(score, wanted), _notes())
    seconds, rounds = [], []
    for file in files(sound, kind, limit_bytes, score.title):
        keep(file.data)
        seconds.append(round(file.seconds, 3))
        rounds.append(list(file.rounds))
    tempos = [[bpm, round(float(at), 3)] for bpm, at in sound.tempos]
    return {"seconds": seconds, "rounds": rounds, "tempos": tempos, "unit": score.beat.unit}
