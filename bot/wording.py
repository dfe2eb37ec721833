"""The words of the bot in the language of whoever reads them; the English text is the gettext message id."""

import gettext
from functools import lru_cache
from pathlib import Path
from typing import Any

LOCALE_FOLDER = Path(__file__).parent / "locale"
DOMAIN = "breakwright-bot"


@lru_cache(maxsize=16)
def _catalogue(language: str) -> gettext.NullTranslations:
    return gettext.translation(DOMAIN, LOCALE_FOLDER, [language], fallback=True)


@lru_cache(maxsize=1024)
def known_language(locale: str) -> str:
    """The language of a locale (``de``, ``es-419``, ``en-GB``) if there is a catalogue for it, else English."""
    language = locale.partition("-")[0].lower()
    return language if (LOCALE_FOLDER / language).is_dir() else "en"


def languages() -> tuple[str, ...]:
    """Those there are catalogues for; English needs none."""
    return tuple(sorted(path.name for path in LOCALE_FOLDER.glob("*") if path.is_dir()))


def say(text: str, language: str = "en", /, **params: Any) -> str:
    """A text in a language, its blanks filled. An empty text stays empty."""
    return (_catalogue(language).gettext(text) if text else "").format(**params)


def name_of(text: str, kind: str, language: str) -> str:
    """A name that people type, which may be another word than the same one in a sentence."""
    return _catalogue(language).pgettext(kind, text)


def typed_name(command: str, language: str) -> str:
    """A command as it is typed in a language: ``break random``, ``break zufall``."""
    return " ".join(name_of(part, "command", language) for part in command.split())


def word(text: str) -> str:
    """Marks a text that is said later."""
    return text
