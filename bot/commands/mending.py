"""Tab that the service did not take: shown again with marks, so that nothing that was typed is lost."""

from collections.abc import Mapping

from bot.api.client import Refused
from bot.asks import Ask
from bot.commands.marking import marked
from bot.replies import Button, Call, Reply
from bot.trouble import failed, told
from schemas.base import Place

MOST_PLACES = 3  # that are told; the others have their marks. Ours


def to_mend(ask: Ask, error: Exception, text: str, fields: Mapping[str, str], again: Call) -> Reply:
    """``again`` opens the form anew, filled with what is shown."""
    places = error.problem.at if isinstance(error, Refused) else []
    head = told(error.problem) if isinstance(error, Refused) else failed(error, again, ask.language).head
    return Reply(
        head=head,
        tab=marked(text, places, fields),
        notes=tuple(_place(ask, place) for place in places[:MOST_PLACES]),
        failed=True,
        buttons=((Button(ask.say("Mend it"), again, "main"),),),
    )


def _place(ask: Ask, place: Place) -> str:
    said = " ".join(filter(None, (place.text, place.advice)))
    return said if place.line is None else ask.say("Line {line}: {said}", line=place.line, said=said)
