"""What somebody types that can be read in two ways. It is asked back when a tune is sent in; tunes that are kept are read as the forms say."""

import re

from service.errors import Fault
from service.notation.clean import sung_lines

_SECTION = re.compile(r"\s*[A-Za-z]\w{0,11}\s*:")
# A big letter and a small b by themselves: E flat as chords write it, or the notes E and b. In a longer row of letters all are notes.
_FLAT_OR_NOTE = re.compile(r"(?<![A-Za-z^_=])([A-G])b(?![A-Za-z])")


def melody_doubts(text: str) -> list[Fault]:
    """A fault for each place of a melody, in either of its forms, that may be a flat or two notes."""
    found = []
    for line in sung_lines(text, quoted=False):
        heading = _SECTION.match(line.text)
        for match in _FLAT_OR_NOTE.finditer(line.text, heading.end() if heading else 0):
            word, flat, notes = match.group(), f"_{match[1]}", f"{match[1]} b"
            found.append(line.fault("melody-flat-or-note", match.start(), word=word, flat=flat, notes=notes))
    return found
