"""How the platform says no: an HTTP status, a JSON error code and, for a form, where in it the fault lies."""

from typing import Any

# JSON error codes with their HTTP status and sentence (API reference, "Opcodes and Status Codes").
SAID: dict[int, tuple[int, str]] = {
    0: (404, "404: Not Found"),
    10003: (404, "Unknown Channel"),
    10004: (404, "Unknown Guild"),
    10007: (404, "Unknown Member"),
    10008: (404, "Unknown Message"),
    10013: (404, "Unknown User"),
    10015: (404, "Unknown Webhook"),
    10062: (404, "Unknown interaction"),
    10063: (404, "Unknown application command"),
    40001: (401, "401: Unauthorized"),
    40005: (413, "Request entity too large"),
    40060: (400, "Interaction has already been acknowledged."),
    50001: (403, "Missing Access"),
    50005: (403, "Cannot edit a message authored by another user"),
    50006: (400, "Cannot send an empty message"),
    50007: (403, "Cannot send messages to this user"),
    50013: (403, "Missing Permissions"),
    50024: (403, "Cannot execute action on this channel type"),
    50027: (401, "Invalid Webhook Token"),
    50033: (400, "Invalid Recipient(s)"),
    50035: (400, "Invalid Form Body"),
    160004: (400, "A thread has already been created for this message"),
    160005: (400, "Thread is locked"),
}

# What a bot cannot always know beforehand: it has to live with these answers, but did nothing wrong.
CIRCUMSTANCES = frozenset(
    (10003, 10004, 10007, 10008, 10013, 50001, 50007, 50013, 160004, 160005)
)  # fmt: skip


class Refused(Exception):
    """An answer with an error code. ``where`` and ``why`` tell the place in a form, like ``embeds.0.title``.

    ``known``: that it went wrong was noted before.
    """

    def __init__(self, code: int, where: str = "", why: str = "", *, known: bool = False) -> None:
        super().__init__(f"{code} {SAID[code][1]}: {where} {why}".rstrip(": "))
        self.code = code
        self.where = where
        self.why = why
        self.known = known

    @property
    def status(self) -> int:
        return SAID[self.code][0]

    def wire(self) -> dict[str, Any]:
        found: dict[str, Any] = {"message": SAID[self.code][1], "code": self.code}
        if self.where:
            errors: dict[str, Any] = {"_errors": [{"code": "BASE_TYPE_INVALID", "message": self.why}]}
            for part in reversed(self.where.split(".")):
                errors = {part: errors}
            found["errors"] = errors
        return found


def form(where: str, why: str) -> Refused:
    return Refused(50035, where, why)


def length(where: str, value: object, least: int, most: int) -> str:
    """A text of so many characters, or a refusal. Counted in characters, as the platform counts."""
    if not isinstance(value, str):
        raise form(where, "Must be a text.")
    if not least <= len(value) <= most:
        raise form(where, f"Must be between {least} and {most} in length, is {len(value)}.")
    return value


def count(where: str, value: object, least: int, most: int) -> list[Any]:
    if not isinstance(value, list):
        raise form(where, "Must be a list.")
    if not least <= len(value) <= most:
        raise form(where, f"Must be between {least} and {most} in length, is {len(value)}.")
    return value
