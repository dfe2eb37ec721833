"""Makes the catalogues of translations:

python -m tests.tools.make_catalogues

Whatever is said is written into a template (.pot); each language's .po keeps what is translated of it and gets the rest
without a translation; the .mo compiled of it is what programs read.
"""

import ast
import io
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from bot.commands.book import book
from service.sentences import SENTENCES
from service.sentences.words import WORDS
from service.wording import WORD

HOUSE = Path(__file__).resolve().parents[2]
LANGUAGES = ("de", "es")
SAID = ("say", "_say", "word")  # functions whose first argument, where it is a literal, is to be translated
WIDTH = 110

Words = dict[
    tuple[str, str | None], list[str]
]  # what is to be translated with its context, and where it is said


def words_of_service() -> Words:
    """Sentences, advice and words, with their codes and parameters."""
    found: Words = {}
    for code, texts in SENTENCES.items():
        for text in filter(None, texts):
            found.setdefault((text, None), []).append(code)
    for name, values in WORDS.items():
        for value in values:
            found.setdefault((value, WORD), []).append(name)
    return found


def words_in(folder: Path) -> Words:
    """First arguments of ``say(...)`` and ``word(...)``, also as methods, in all modules of a folder, with the module's name."""
    found: Words = {}
    for path in sorted(folder.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call) or not node.args:
                continue
            name = getattr(node.func, "id", getattr(node.func, "attr", None))
            text = getattr(node.args[0], "value", None)
            if name in SAID and isinstance(node.args[0], ast.Constant) and isinstance(text, str) and text:
                places = found.setdefault((text, None), [])
                place = path.relative_to(folder).as_posix()
                if place not in places:
                    places.append(place)
    return found


def words_of_bot() -> Words:
    """What its code says, and what can be typed: names of commands and options in contexts of their own, and choices."""
    found = words_in(HOUSE / "bot")
    for family in book().families:
        found.setdefault((family, "command"), []).append(family)
    for command in book().commands:
        if command.listed:
            found.setdefault((command.name.split()[-1], "command"), []).append(command.name)
        for option in command.options:
            if command.listed and not option.hidden:
                found.setdefault((option.name, "option"), []).append(command.name)
            for choice in option.choices:
                found.setdefault((choice, None), []).append(f"{command.name} {option.name}")
    return found


class _Plain(Catalog):
    """A catalogue whose head names no times and no makers, so that making it anew changes nothing."""

    def __init__(self, language: str | None = None) -> None:
        super().__init__(language, header_comment="# What Breakwright says.", fuzzy=False)

    @property
    def mime_headers(self) -> list[tuple[str, str]]:
        return [
            ("Project-Id-Version", "breakwright"),
            ("Language", self.locale_identifier or ""),
            ("MIME-Version", "1.0"),
            ("Content-Type", "text/plain; charset=utf-8"),
            ("Content-Transfer-Encoding", "8bit"),
        ]


@dataclass(frozen=True, slots=True)
class Domain:
    """A set of catalogues: their name, their folder, and what is to be said in them."""

    name: str
    folder: Path
    words: Callable[[], Words]

    def file(self, language: str, suffix: str) -> Path:
        return self.folder / language / "LC_MESSAGES" / f"{self.name}.{suffix}"

    def template(self) -> Catalog:
        return self._holding(_Plain())

    def merged(self, language: str) -> Catalog:
        """What is to be said, with what the language's .po has translated of it."""
        path = self.file(language, "po")
        kept = read_po(io.BytesIO(path.read_bytes())) if path.exists() else Catalog()
        return self._holding(_Plain(language), kept)

    def _holding(self, made: Catalog, kept: Catalog | None = None) -> Catalog:
        for (text, context), places in self.words().items():
            known = kept.get(text, context) if kept else None
            # codes are no places in files, so they are comments
            message = made.add(
                text,
                known.string if known else "",
                auto_comments=[", ".join(dict.fromkeys(places))],
                context=context,
            )
            message.flags = {"fuzzy"} if known and known.fuzzy else set()
        return made


DOMAINS = (
    Domain("breakwright", HOUSE / "service" / "locale", words_of_service),
    Domain("breakwright-bot", HOUSE / "bot" / "locale", words_of_bot),
)


def po_of(catalogue: Catalog) -> bytes:
    written = io.BytesIO()
    write_po(written, catalogue, width=WIDTH)
    return written.getvalue()


def mo_of(catalogue: Catalog) -> bytes:
    written = io.BytesIO()
    write_mo(written, catalogue)
    return written.getvalue()


def main() -> None:
    for domain in DOMAINS:
        if not domain.words():
            continue
        domain.folder.mkdir(exist_ok=True)
        (domain.folder / f"{domain.name}.pot").write_bytes(po_of(domain.template()))
        for language in LANGUAGES:
            merged = domain.merged(language)
            domain.file(language, "po").parent.mkdir(parents=True, exist_ok=True)
            domain.file(language, "po").write_bytes(po_of(merged))
            domain.file(language, "mo").write_bytes(mo_of(merged))
            left = sum(not message.string for message in merged)
            print(f"{domain.name} {language}: {left} without a translation")


if __name__ == "__main__":
    main()
