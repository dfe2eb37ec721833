"""Rows on pages: as many as have room, headings kept with what they head, page numbers below."""

from collections.abc import Callable, Sequence
from math import ceil

from service.engrave.looks import NOTE, Look
from service.engrave.paint import END, SOFT, Mark, Picture, Text
from service.engrave.rows import Row


def pages(
    rows: Sequence[Row],
    look: Look,
    title: str,
    describe: Callable[[int, int], str],
    foot: Callable[[int, int], str] | None = None,
) -> tuple[Picture, ...]:
    """Pictures of all pages. ``describe`` and ``foot`` get a page's number from 1 and how many there are; a single page needs no
    number below it."""
    split = _split(rows, look)
    found = []
    for number, on_page in enumerate(split, 1):
        y = look.margin
        marks: list[Mark] = []
        for row in on_page:
            marks.extend(row.paint(y))
            y += row.height
        numbered = foot is not None and len(split) > 1
        if look.height is None:
            # whole points, so that no row of pixels is left over
            height = float(ceil(y + look.margin * 0.6 + (look.of(NOTE) if numbered else 0.0)))
        else:
            height = look.height
        if foot is not None and numbered:
            marks.append(
                Text(
                    look.width - look.margin,
                    height - look.margin * 0.55,
                    look.of(NOTE),
                    foot(number, len(split)),
                    SOFT,
                    END,
                )
            )
        found.append(Picture(look.width, height, marks, title, describe(number, len(split))))
    return tuple(found)


def _split(rows: Sequence[Row], look: Look) -> list[list[Row]]:
    """Rows for each page. Rows that keep with the next go over together with it."""
    room = None if look.height is None else look.height - 2 * look.margin - look.of(NOTE)
    found: list[list[Row]] = [[]]
    used, music = 0.0, 0
    index = 0
    while index < len(rows):
        end = index
        while end < len(rows) - 1 and rows[end].keep:
            end += 1
        block = rows[index : end + 1]
        if block[0].page_break:
            if found[-1]:
                found.append([])
                used, music = 0.0, 0
            index = end + 1
            continue
        height, systems = sum(row.height for row in block), sum(row.music for row in block)
        full = (room is not None and used + height > room) or music + systems > look.systems
        if full and found[-1]:
            found.append([])
            used, music = 0.0, 0
        found[-1].extend(block)
        used, music = used + height, music + systems
        index = end + 1
    return found
