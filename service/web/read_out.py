"""The read-out as text in the language asked for."""

from collections.abc import Mapping

from service.music.scores import Score
from service.notation.read_out import alt_text, read_out
from service.wording import say

ALT_LIMIT = 1024  # characters: what chat platforms take as the description of a picture, common


def read_out_text(score: Score, language: str = "en") -> str:
    """A sentence or two on each line, ending in a newline. Raises DomainError ``rhythm-too-fine``."""
    return "".join(f"{say(line.code, line.params, language)}\n" for line in read_out(score))


def described(score: Score, language: str = "en", limit: int = ALT_LIMIT) -> str:
    """What a picture of the tab shows, for those who cannot see it, in at most ``limit`` characters."""

    def said(code: str, params: Mapping[str, object]) -> str:
        return say(code, params, language)

    return alt_text(score, limit, said)
