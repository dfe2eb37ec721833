"""Makes pasted text plain while remembering where each character came from."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from service.errors import Fault

EM_DASH, EN_DASH = "\u2014", "\u2013"

_DASHES = "\u2010\u2011\u2012\u2212\u2500\u2501\u2504\u2508\u254c\u30fc\uff0d\ufe63\u00af\u203e\u23af\u2574\u2576\u02d7\u06d4"
_LONG_DASHES = {"\u2014": EM_DASH, "\u2015": EM_DASH, "\u2e3a": EM_DASH, "\u2013": EN_DASH}
_BARS = (
    "\u2502\u2503\u2551\u2506\u250a\u00a6\uff5c\u2223\u2758\u2759\u275a\u01c0\u23d0\u251c\u2524\u253c\u250c\u2510\u2514"
    "\u2518\u252c\u2534\u2550\u258f\u2595\uffe8"
)
_SPACES = "\u00a0\u1680\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\u205f\u3000"
_NOTHING = "\u200b\u200c\u200d\u2060\ufeff\u00ad\u200e\u200f\u2066\u2067\u2068\u2069\ufe0e\ufe0f"
_PLAIN = {
    **dict.fromkeys(_DASHES, "-"),
    **dict.fromkeys(_BARS, "|"),
    **dict.fromkeys(_SPACES, " "),
    **dict.fromkeys(_NOTHING, ""),
    **_LONG_DASHES,
    **{chr(0xFF10 + n): str(n) for n in range(10)},
    "\u2044": "/",
    "\u2215": "/",
    "\u2571": "/",
    "\u2572": "\\",
    "\uff3c": "\\",
    "\u2019": "'",
    "\u266f": "#",
    "\u266d": "b",
    "\u00d7": "x",
    "\u25cf": "*",
    "\u2022": "*",
}
# What phones make of what is typed, beside those: quotes, dots, fractions, letters and signs as wide as Chinese ones.
_TYPED = {
    **_PLAIN,
    **{chr(0xFEE0 + code): chr(code) for code in range(0x21, 0x7F)},
    **dict.fromkeys("\u2018\u201a\u201b\u2032\u02bc\u00b4", "'"),
    **dict.fromkeys("\u201c\u201d\u201e\u201f\u2033\u00ab\u00bb", '"'),
    "\u2026": " ...",
    "\u00bd": "1/2",
    "\u00bc": "1/4",
    "\u00be": "3/4",
}
_SUNG = {**_TYPED, "\u266d": "\u266d"}  # among note letters a b would be a note
LONG_EM, LONG_EN = 2, 1  # short dashes that a long one stands for where phones put it: -- becomes one
_LINE_END = re.compile("\r\n|\r|\n|\u2028|\u2029")
TAB_STOP = 8
QUOTED_LINES = 2  # lines that begin with > make a text a quoted mail
MOST_QUOTES = 9  # mails quoted within each other


@dataclass(frozen=True, slots=True)
class Line:
    """A cleaned line; ``columns[i]`` is where character i stood in the text, counted from 1."""

    number: int
    text: str
    columns: Sequence[int]
    original: str

    def column(self, index: int) -> int:
        """Original column of a character; past the end it is one past the last."""
        if index < len(self.columns):
            return self.columns[index]
        return (self.columns[-1] if self.columns else 0) + 1

    def excerpt(self, index: int, around: int = 12) -> str:
        """The original text around a character."""
        at = self.column(index) - 1
        return self.original[max(0, at - around) : at + around + 1].strip()

    def fault(self, code: str, index: int, *, measure: int | None = None, **params: object) -> Fault:
        """A fault or remark at a character of this line."""
        return Fault(code, params, self.number, self.column(index), self.excerpt(index), measure)

    def expanded(self, em: int, en: int) -> "Line":
        """The line with each long dash written as so many short ones."""
        if EM_DASH not in self.text and EN_DASH not in self.text:
            return self
        chars: list[str] = []
        columns: list[int] = []
        for char, column in zip(self.text, self.columns, strict=True):
            times = {EM_DASH: em, EN_DASH: en}.get(char)
            chars.extend([char] if times is None else "-" * times)
            columns.extend([column] * (times or 1))
        return Line(self.number, "".join(chars), columns, self.original)


def clean_lines(text: str) -> list[Line]:
    """The lines of a text with plain dashes, bars, digits and spaces; long dashes are kept apart."""
    return _cleaned(text, _PLAIN)


def typed_lines(text: str) -> list[Line]:
    """The same of a chord chart: also what autocorrect puts in is read as what it stands for."""
    return [line.expanded(LONG_EM, LONG_EN) for line in _cleaned(text, _TYPED)]


def sung_lines(text: str, *, quoted: bool = True) -> list[Line]:
    """The same of a melody, with its flats kept apart from the letter b. Without ``quoted`` a ``>`` is a sign like others."""
    return [line.expanded(LONG_EM, LONG_EN) for line in _cleaned(text, _SUNG, quoted=quoted)]


def _cleaned(text: str, plain: Mapping[str, str], *, quoted: bool = True) -> list[Line]:
    raws = _LINE_END.split(text)
    quoted = quoted and sum(raw.lstrip().startswith(">") for raw in raws) >= QUOTED_LINES
    return [_clean(number, raw, quoted, plain) for number, raw in enumerate(raws, 1)]


def _quoted(raw: str) -> int:
    """How many characters at the start only quote a message that was answered (``> > ``)."""
    first = 0
    while raw[first:].lstrip(" ").startswith(">") if first < 2 * MOST_QUOTES else False:
        first = raw.index(">", first) + 1
        first += raw[first : first + 1] == " "
    return first


def _clean(number: int, raw: str, quoted: bool, meant: Mapping[str, str]) -> Line:
    first = _quoted(raw) if quoted else 0
    if raw.isascii() and "\t" not in raw:
        text = raw[first:].rstrip()
        return Line(number, text, range(first + 1, first + len(text) + 1), raw)
    chars: list[str] = []
    columns: list[int] = []
    for column, char in enumerate(raw[first:], first + 1):
        plain = meant.get(char, char)
        if char == "\t":
            plain = " " * (TAB_STOP - len(chars) % TAB_STOP)
        chars.extend(plain)
        columns.extend([column] * len(plain))
    text = "".join(chars).rstrip()
    return Line(number, text, columns[: len(text)], raw)


def words(text: str | None, most: int = 200) -> str:
    """A title or name as it can be shown: on one line, and no longer than ``most`` characters."""
    return " ".join((text or "").split())[:most].strip()
