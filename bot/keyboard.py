"""Lines that somebody types, with Tab for what can come next where the terminal can do that."""

import sys
from collections.abc import Sequence

from bot.book import Book

try:
    import readline
except ImportError:  # not on every system
    readline = None  # type: ignore[assignment]


class Keyboard:
    """Call it for a line. Raises EOFError at the end of what is typed, KeyboardInterrupt for Ctrl-C."""

    def __init__(self, book: Book) -> None:
        self._book = book
        self._typing = sys.stdin.isatty()
        if self._typing and readline is not None:
            readline.set_completer(self._complete)
            readline.set_completer_delims(" ")
            readline.parse_and_bind("tab: complete")
            # a pasted tab comes line by line, as it would without readline
            readline.parse_and_bind("set enable-bracketed-paste off")

    def __call__(self, prompt: str) -> str:
        line = input(prompt)
        if not self._typing:
            print(line)  # so that what is piped in stands beside its answers
        return line

    def _complete(self, begun: str, which: int) -> str | None:
        before = readline.get_line_buffer()[: readline.get_begidx()]
        found = [word for word in next_words(self._book, before) if word.startswith(begun)]
        return found[which] if which < len(found) else None


def next_words(book: Book, before: str) -> Sequence[str]:
    """What may stand after the words so far: first and second words of commands, then options."""
    words = before.lower().split()
    command = next(
        (found for count in (2, 1) if (found := book.find(" ".join(words[:count]))) and found.listed), None
    )
    if command is not None:
        return [f"{option.name}=" for option in command.typed]
    names = [found.name for found in book.listed]
    if not words:
        return [*dict.fromkeys(f"{name.split()[0]} " for name in names)]
    return [f"{name.split()[1]} " for name in names if " " in name and name.split()[0] == words[0]]
