"""Plain text as the chat shows it: nothing that members wrote can ping, link, or break out of where it stands."""

import re

from bot.replies import moments

MOST_TEXT = 2000  # characters of a message
FENCE = "```"
# What would be markup, a mention, or a link with a preview. ``-`` and ``>`` mean something at the beginning of a line alone.
_MARKUP = re.compile(r"[\\*_~`|\[\]<>#]|^\s*(?:[-+]|\d+\.(?=\s))|:(?=//)", re.MULTILINE)
_AT = re.compile("@")
_INVISIBLE = "\u200b"  # between characters that would mean something together


def plain(text: str) -> str:
    """A text of anybody's, shown as it was written; moments in each reader's own zone."""
    shown = []
    for part in moments(text):
        shown.append(f"<t:{part}:f>" if isinstance(part, int) else _escaped(part))
    return "".join(shown)


def _escaped(text: str) -> str:
    return _AT.sub(f"@{_INVISIBLE}", _MARKUP.sub(lambda found: _with_backslash(found.group()), text))


def _with_backslash(markup: str) -> str:
    return f"{markup[:-1]}\\{markup[-1]}"


def block(text: str) -> str:
    """Preformatted text as a block of fixed width."""
    inside = text.removesuffix("\n").replace("`", f"`{_INVISIBLE}")
    return f"{FENCE}\n{inside}\n{FENCE}"


def in_block(content: str) -> str | None:
    """The text of a message's block, as it went in; None without one."""
    _, opened, rest = content.partition(f"{FENCE}\n")
    text, closed, _ = rest.rpartition(f"\n{FENCE}")
    return text.replace(f"`{_INVISIBLE}", "`") if opened and closed else None


def length(text: str) -> int:
    """How much of a message's characters it takes: counted as the widest of those who count do, in UTF-16."""
    return len(text.encode("utf-16-le")) // 2


def cut(text: str, most: int) -> str:
    """A text within a bound, with a sign that there was more."""
    while length(text) > most:
        text = text[: min(len(text) - 2, most)].rstrip("…") + "…"
    return text
