"""The tab in sentences."""

from collections.abc import Mapping

from service.music.scores import Score
from service.notation.read_out import alt_text, read_out
from service.wording import say

ALT_TEXT_MOST = 1024  # characters that chats take as a picture's description


def description(score: Score, language: str) -> str:
    """For those who cannot see the picture, as long as a chat takes."""

    def sayer(code: str, params: Mapping[str, object]) -> str:
        return say(code, params, language)

    return alt_text(score, ALT_TEXT_MOST, sayer)


def read_out_text(score: Score, language: str) -> str:
    """The whole tab, a sentence a line."""
    return "\n".join(say(line.code, line.params, language) for line in read_out(score)) + "\n"
