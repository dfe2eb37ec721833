"""Saying things: a code and its parameters become a sentence in the language asked for.

The English text is the gettext message id, so a catalogue under service/locale/<language>/LC_MESSAGES/
translates a sentence of service/sentences/ without touching it. Words of the trade that are parameters (sentences/words.py)
are translated as they are filled in.
"""

import gettext
from collections.abc import Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from string import Formatter

from service.errors import BreakwrightError, Fault
from service.sentences import SENTENCES
from service.sentences.words import WORDS

LOCALE_FOLDER = Path(__file__).parent / "locale"
COUNTS = ("total", "tries")  # parameters that may be very large
WORD = "word"  # the gettext context of words, since "eighth" may also be a sentence's own


@lru_cache(maxsize=16)
def _catalogue(language: str) -> gettext.NullTranslations:
    """Of ``de-AT`` that of ``de``; English where there is none."""
    return gettext.translation("breakwright", LOCALE_FOLDER, [language.partition("-")[0]], fallback=True)


def says(code: str) -> bool:
    """Whether there is a sentence for a code."""
    return code in SENTENCES


def say(code: str, params: Mapping[str, object], language: str = "en") -> str:
    """The sentence for a code. Parameters that a template does not name are ignored."""
    return _filled(SENTENCES[code][0], params, language)


def advise(code: str, params: Mapping[str, object], language: str = "en") -> str | None:
    """What to do about it, if there is anything to do."""
    advice = SENTENCES[code][1]
    return _filled(advice, params, language) if advice else None


def _filled(template: str, params: Mapping[str, object], language: str) -> str:
    shown = {name: _shown(name, value, language) for name, value in params.items()}
    return _catalogue(language).gettext(template).format(**shown)


def _part(what: str) -> str:
    """The code of a part: its own, or one of what was assumed."""
    return what if what in SENTENCES else f"assumed-{what}"


def word(name: str, value: str, language: str) -> str:
    """A parameter in the language, if it holds one of the words that ``name`` may hold; else as it is."""
    if value in WORDS.get(name, ()):
        return _catalogue(language).pgettext(WORD, value)
    if name == "measures":  # several of them, as in "1 and 2"
        return value.replace(" and ", f" {_catalogue(language).pgettext(WORD, 'and')} ")
    return value


def _shown(name: str, value: object, language: str) -> object:
    """Parts, of what was assumed or may be changed, are sentences of their own; everything else is itself or a word."""
    if name in COUNTS and str(value).isdigit():
        return grouped(int(str(value)), language)
    if isinstance(value, str):
        return word(name, value, language)
    if isinstance(value, Sequence):
        return "; ".join(
            say(_part(str(part["what"])), part, language) for part in value if isinstance(part, Mapping)
        )
    return value


def grouped(number: int, language: str) -> str:
    """``48214`` as ``48,214``; elsewhere with narrow spaces, since a comma is the sign before decimals there (SI brochure, 5.4.4)."""
    told = f"{number:,}"
    return told if language == "en" else told.replace(",", "\N{NARROW NO-BREAK SPACE}")


@lru_cache(maxsize=1024)
def known_language(language: str) -> str:
    """The language if there is a catalogue for it, else English."""
    return language if (LOCALE_FOLDER / language).is_dir() else "en"


def said(problem: Fault | BreakwrightError, language: str = "en") -> str:
    """A fault or an error as one line: what is the matter and what to do."""
    params = told(problem)
    text = say(problem.code, params, language)
    advice = advise(problem.code, params, language)
    return f"{text} {advice}" if advice else text


def told(problem: Fault | BreakwrightError) -> dict[str, object]:
    """What a sentence may name: the parameters, and the measure of a fault."""
    if isinstance(problem, Fault):
        return {"measure": problem.measure, **problem.params}
    return problem.params


def fields(template: str) -> set[str]:
    """The parameters that a template names."""
    return {name for _, name, _, _ in Formatter().parse(template) if name}
