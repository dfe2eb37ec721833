"""What went wrong, as one friendly sentence with a next step."""

from bot.api.client import BUSY, Refused, Unreachable
from bot.replies import Button, Call, Reply
from bot.wording import say
from schemas.base import Problem

# Reasons that a problem may give beside its sentence, worth the place in a chat: why, and what would help.
WITH_FAULTS, MOST_FAULTS = ("bad-evening", "bad-request"), 3
TOLD_PLACES = ("empties", "met-by-none", "would-give")


class Unusable(Exception):
    """What somebody gave cannot be used. ``text`` says why and what to give instead, in their language."""

    def __init__(self, text: str) -> None:
        super().__init__(text)
        self.text = text


def failed(error: Exception, call: Call, language: str) -> Reply:
    """The answer to an ask that went wrong; what may go better in a moment can be asked again by a button."""
    if isinstance(error, Unusable):
        return Reply(head=error.text, failed=True)
    if isinstance(error, Refused):
        return Reply(head=told(error.problem), failed=True, buttons=_after(error.problem, call, language))
    if isinstance(error, (Unreachable, TimeoutError)):
        head = say("The service does not answer just now. Try again in a minute.", language)
    else:
        head = say("Something went wrong on our side. Try again; if it stays, tell an organiser.", language)
    return Reply(head=head, failed=True, buttons=_again(call, language))


def told(problem: Problem) -> str:
    """A problem's sentence and the reasons that help; of something with faults in it, the first few of them."""
    if problem.code in WITH_FAULTS:
        faults = [f"{place.text} {place.advice or ''}".strip() for place in problem.at[:MOST_FAULTS]]
        return " ".join([problem.detail, *faults])
    first = [next((place.text for place in problem.at if place.code == code), "") for code in TOLD_PLACES]
    return " ".join([problem.detail, *filter(None, first)])


def _after(problem: Problem, call: Call, language: str) -> tuple[tuple[Button, ...], ...]:
    """What may help after a refusal: the same later, or a look at what there is."""
    if problem.status in BUSY:
        return _again(call, language)
    if problem.code == "no-plain-break" and "tune" in call.given:
        given = {name: call.given[name] for name in ("tune", "instrument") if name in call.given}
        return ((Button(say("Make a plain break", language), Call("tune arrange", given), "main"),),)
    if problem.code == "not-found" and "tune" in call.given:
        return ((Button(say("The tunes", language), Call("tune list"), "main"),),)
    return ()


def _again(call: Call, language: str) -> tuple[tuple[Button, ...], ...]:
    return ((Button(say("Try again", language), call, "main"),),)
