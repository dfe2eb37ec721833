"""Sheets with words on them: from a subject and what was asked to what stands on the page."""

from service.engrave.bands import Options
from service.engrave.sheets import Block, Credits, Music, Shapes, Sheet, Tempo, Title
from service.music.folding import folded
from service.music.scores import Score
from service.usecases.playing import setting_of_score
from service.web.options import Drawing
from service.web.read_out import described
from service.web.subjects import Subject, credits, set_up
from service.wording import say

SEPARATOR = " · "


def sheet_of(subject: Subject, drawing: Drawing, language: str, *, paper: bool) -> Sheet:
    """A subject on its own: title, setting, tempo, music, where it comes from. Raises DomainError."""
    score = subject.score
    lines = (
        SEPARATOR.join(set_up(setting_of_score(score), language)),
        *([SEPARATOR.join(subject.extra)] if subject.extra else []),
        *subject.remarks,
    )
    blocks: list[Block] = [Title(score.title, lines), Tempo(score.beat)]
    if drawing.shapes:
        blocks.append(shapes_of(score))
    blocks.append(music_of(score, drawing, paper=paper))
    bold = (say("sheet-bold", {}, language),) if score.melody else ()
    blocks.append(Credits((*bold, *credits(subject.rights, language))))
    fit = "somewhat" if paper and not drawing.large else ""
    return Sheet(score.title, described(score, language), page_foot(language), tuple(blocks), fit)


def music_of(score: Score, drawing: Drawing, *, paper: bool) -> Music:
    shown = folded(score) if (paper if drawing.folded is None else drawing.folded) else score
    return Music(shown, Options(drawing.notation, drawing.hands == "both"))


def page_foot(language: str) -> str:
    """What stands below a page, with the numbers left to be filled in."""
    return say("sheet-page", {"page": "{page}", "pages": "{pages}"}, language)


def shapes_of(score: Score) -> Shapes:
    """A shape for each chord of a score, in the order they come."""
    passage = score.passage
    chords = dict.fromkeys(change.chord for change in passage.changes if change.chord is not None)
    return Shapes(tuple(chords), passage.instrument, passage.tuning, passage.capo)
