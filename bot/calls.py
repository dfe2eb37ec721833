"""A call as short text, and back: what a button carries, so that it works for as long as its message stands.

``b1:break random@ferry-lane?t=heron-ferry&l=2#mark``: the version of the form, the command, perhaps the group it is about, its
arguments by their short names, and a mark that tells messages apart. A hundred characters is what chats give a button.
"""

from collections.abc import Mapping
from urllib.parse import parse_qsl, urlencode

from bot.replies import Call

VERSION = "b1"
LONGEST = 100


class TooLong(ValueError):
    """The call does not fit on a button."""


def written(call: Call, short: Mapping[str, str], mark: str = "") -> str:
    """``short`` are the names that arguments have on the wire. Raises TooLong."""
    given = {short.get(name, name): value for name, value in call.given.items()}
    text = f"{VERSION}:{call.command}" + (f"@{call.group}" if call.group else "")
    text += f"?{urlencode(given)}" if given else ""
    text += f"#{mark}" if mark else ""
    if len(text) > LONGEST:
        raise TooLong(text)
    return text


def read(text: str) -> tuple[Call, str] | None:
    """The call, arguments by their short names still, and its mark; None for what is of another version."""
    version, found, rest = text.partition(":")
    if version != VERSION or not found:
        return None
    rest, _, mark = rest.partition("#")
    command, _, query = rest.partition("?")
    command, _, group = command.partition("@")
    return Call(command, dict(parse_qsl(query, keep_blank_values=True)), group or None), mark
