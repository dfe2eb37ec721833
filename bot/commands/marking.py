"""What somebody typed, shown again with marks where it cannot be read, and got back from there unchanged.

    # name: Crossing the creek
    1|-0--x--|
          ^
    2|-0-----|

Lines that begin with ``# `` hold what else was typed; a line of carets points at the line above it. Lines of the text that look like
either get a sign more, so that nothing is lost whatever was typed.
"""

import re
from collections.abc import Iterable, Mapping, Sequence

from bot.api.client import Refused
from bot.asks import Ask
from bot.replies import Button, Call, Reply
from bot.trouble import failed
from schemas.base import Place

_HEADING = re.compile(r"#+ ")
_FIELD = re.compile(r"# ([a-z-]+):(?: (.*))?", re.DOTALL)
_CARETS = re.compile(r"[ ^]*\^[ ^]*")
_NUMBER = re.compile(r"[0-9]+")
MOST_PLACES = 3  # that are explained at once; ours: nobody mends more without looking again
_OF_TEXT = (None, "text")  # paths of places that may be in the text itself


def marked(text: str, places: Iterable[Place] = (), fields: Mapping[str, str] | None = None) -> str:
    """The text with carets below what ``places`` point at; ``fields`` are what else was typed, by name (small letters)."""
    shown = [
        f"# {name}: {line}" for name, value in (fields or {}).items() if value for line in value.split("\n")
    ]
    columns = _columns(text, places)
    for number, line in enumerate(text.split("\n"), 1):
        shown.append(_kept(line))
        if number in columns:
            shown.append(_carets(columns[number]))
    return "\n".join(shown)


def unmarked(shown: str) -> str:
    """The text as it was typed, out of what ``marked`` made of it."""
    kept = []
    for line in shown.split("\n"):
        if _CARETS.fullmatch(line):
            if line.endswith("^^"):
                kept.append(line[:-2])
        elif _HEADING.match(line):
            if line.startswith("##"):
                kept.append(line[1:])
        else:
            kept.append(line)
    return "\n".join(kept)


def fields_of(shown: str) -> dict[str, str]:
    """What else was typed, out of what ``marked`` made of it."""
    found: dict[str, list[str]] = {}
    for line in shown.split("\n"):
        field = _FIELD.fullmatch(line)
        if field is not None:
            found.setdefault(field[1], []).append(field[2] or "")
    return {name: "\n".join(lines) for name, lines in found.items()}


def to_mend(ask: Ask, error: Exception, text: str, fields: Mapping[str, str], form: Call) -> Reply:
    """What was typed cannot be used: why, the text with marks, and a button that opens ``form`` with all of it in its blanks."""
    places = error.problem.at if isinstance(error, Refused) else []
    return Reply(
        head=failed(error, form, ask.language).head,
        tab=marked(text, places, fields),
        notes=told_places(ask, places),
        failed=True,
        buttons=((Button(ask.say("Mend it"), form, "main"),),),
    )


def told_places(ask: Ask, places: Sequence[Place]) -> tuple[str, ...]:
    """Where something is the matter, what, and what to type instead: the first few."""
    notes = [
        " ".join(filter(None, [_where(ask, place), place.text, place.advice]))
        for place in places[:MOST_PLACES]
    ]
    if len(places) > MOST_PLACES:
        notes.append(ask.say("And {count} more.", count=len(places) - MOST_PLACES))
    return tuple(notes)


def _where(ask: Ask, place: Place) -> str:
    if place.line is None:
        said = place.measure is None or str(place.measure) in _NUMBER.findall(place.text)
        return "" if said else ask.say("Measure {measure}:", measure=place.measure)
    if place.column is None:
        return ask.say("Line {line}:", line=place.line)
    return ask.say("Line {line}, column {column}:", line=place.line, column=place.column)


def _kept(line: str) -> str:
    """A line that looks like none of ours."""
    if _CARETS.fullmatch(line):
        return line + "^^"
    return f"#{line}" if _HEADING.match(line) else line


def _columns(text: str, places: Iterable[Place]) -> dict[int, set[int]]:
    """Columns, from 1, by line, of the places that are in the text."""
    lines = text.split("\n")
    found: dict[int, set[int]] = {}
    for place in places:
        if place.path in _OF_TEXT and place.line is not None and 1 <= place.line <= len(lines):
            line = lines[place.line - 1]
            if place.excerpt is not None and place.excerpt not in line:
                continue  # it is in the chords
            column = place.column or len(line) - len(line.lstrip()) + 1
            found.setdefault(place.line, set()).add(min(max(column, 1), len(line) + 1))
    return found


def _carets(columns: set[int]) -> str:
    """Never two side by side: that is how a line of the text is told from one of ours."""
    shown = ""
    for column in sorted(columns):
        if column > len(shown) + 1 or not shown:
            shown = shown.ljust(column - 1) + "^"
    return shown
