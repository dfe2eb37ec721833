"""What the reader of JSON says of a field, as faults with sentences of our own: its patterns and types are nothing for people."""

import re
from collections.abc import Callable

from service.errors import Fault

_PATH = re.compile(r" - at `(?:key in )?\$\.?([^`]*)`")
_Found = re.Match[str]
# What msgspec 0.21 says, the code of our sentence, and what that names.
_SAID: tuple[tuple[re.Pattern[str], str, Callable[[_Found], dict[str, object]]], ...] = tuple(
    (re.compile(said), code, params)
    for said, code, params in (
        (r"Expected `(?:int|float)` >=? (\S+)", "field-too-small", lambda m: {"least": m[1]}),
        (r"Expected `(?:int|float)` <=? (\S+)", "field-too-large", lambda m: {"most": m[1]}),
        (r"Expected `\w+` of length <= (\d+)", "field-too-long", lambda m: {"most": m[1]}),
        (r"Expected `\w+` of length >= \d+", "field-empty", lambda m: {}),
        (r"Expected `str` matching regex", "field-characters", lambda m: {}),
        (r"Object missing required field `(.+)`", "field-not-given", lambda m: {"field": m[1]}),
        (r"Object contains unknown field `(.+)`", "field-unknown", lambda m: {"field": m[1]}),
    )
)


def field_fault(message: str, key: str | None = None) -> Fault:
    """The fault in what msgspec says; ``key`` names the field where the message does not."""
    match = _PATH.search(message)
    path = (match.group(1) if match else "") or key or None
    plain = _PATH.sub("", message).split("\n")[0].rstrip(".")
    for said, code, params in _SAID:
        found = said.match(plain)
        if found is not None:
            return Fault(code, {"field": path or "", **params(found)}, path=path)
    reason = (plain or "it is not of the documented shape") + "."
    return Fault("field-wrong", {"field": path or "the whole", "reason": reason}, path=path)
