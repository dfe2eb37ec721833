"""What somebody types at a terminal, read as a call: ``break random heron-ferry level=2 style melodic``.

Options come as ``name=value`` or ``name value`` in any order; those that are required may come bare, in their order. What has spaces
stands in quotes; a tune's name needs none. Raises Unusable with the word that cannot be used and what could be meant.
"""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches

from bot.arguments import NO, YES
from bot.book import Book, Command, Option
from bot.replies import Call
from bot.trouble import Unusable
from bot.wording import name_of, say, typed_name, word

QUOTES = {'"': '"', "“": "”", "„": "“", "'": "'"}
WORDY = ("tune", "text", "member", "lick", "day")  # kinds whose values may be more than one bare word
MOST_NAMED = 10  # tunes that are named at once; ours
NEAR = 0.7  # how alike a word must be to be offered instead, as difflib counts; ours
Tunes = Callable[[], Mapping[str, str]]
_WORD = re.compile(r"[^\s=]+")
_SPACES = re.compile(r"\s+")


@dataclass(frozen=True, slots=True)
class Word:
    """A piece of a line: ``name`` is what stood before ``=``; ``quoted`` text is never taken for a name."""

    value: str
    name: str | None = None
    quoted: bool = False


def words_of(line: str, language: str = "en") -> list[Word]:
    """A line cut at its spaces, but for those in quotes. Raises Unusable for a quote that does not end."""
    found: list[Word] = []
    at = 0
    while (at := _past_spaces(line, at)) < len(line):
        named = _WORD.match(line, at)
        name = None
        if named is not None and line[named.end() : named.end() + 1] == "=":
            name, at = named.group(), named.end() + 1
        opened = line[at : at + 1]
        closing = _closing(line, at, opened, language)
        if closing is not None:
            found.append(Word(line[at + 1 : closing], name, True))
            at = closing + 1
            continue
        end = at
        while end < len(line) and not line[end].isspace():
            end += 1
        found.append(Word(line[at:end], name))
        at = end
    return found


def _past_spaces(line: str, at: int) -> int:
    found = _SPACES.match(line, at)
    return at if found is None else found.end()


def _closing(line: str, at: int, opened: str, language: str) -> int | None:
    """Where a quote that begins here ends: before a space or the end of the line. None where none begins."""
    if opened not in QUOTES:
        return None
    end = line.find(QUOTES[opened], at + 1)
    while end != -1 and line[end + 1 : end + 2].strip():
        end = line.find(QUOTES[opened], end + 1)
    if end == -1 and opened != "'":  # an apostrophe may stand alone
        raise Unusable(say("The quote before “{text}” does not end.", language, text=line[at + 1 :][:40]))
    return None if end == -1 else end


def read_line(line: str, book: Book, language: str = "en", tunes: Tunes = dict) -> Call | None:
    """The call that a line means; None for an empty one. ``tunes`` tells their names by their short ones, none where it cannot.

    Raises Unusable.
    """
    words = words_of(line, language)
    if not words:
        return None
    command, rest = _command(words, book, language)
    named = tunes() if any(option.kind == "tune" for option in command.typed) else {}
    given = dict(_given(command, rest, language, named))
    if named and any(
        option.required and option.name not in given for option in command.typed if option.kind == "tune"
    ):
        raise Unusable(
            say("Which tune? The group has {names}.", language, names=", ".join(list(named)[:MOST_NAMED]))
        )
    return Call(command.name, given)


def _command(words: Sequence[Word], book: Book, language: str) -> tuple[Command, Sequence[Word]]:
    names = names_of(book, language)
    first = words[0].value.lower()
    two = f"{first} {words[1].value.lower()}" if len(words) > 1 else first
    for name, taken in ((two, 2), (first, 1)):
        if name in names:
            return names[name], words[taken:]
    if any(name.startswith(f"{first} ") for name in names):
        within = {name.removeprefix(f"{first} "): name for name in names if name.startswith(f"{first} ")}
        if len(words) == 1:
            text = word("“{family}” wants a second word: {words}.")
            raise Unusable(say(text, language, family=first, words=", ".join(within)))
        second = words[1].value
        meant = [f"{first} {near}" for near in _near(second.lower(), within)]
        unknown = say("I know no “{words}”.", language, words=f"{first} {second}")
        raise Unusable(f"{unknown} {_meant(meant or [within[name] for name in within], language)}")
    if words[0].name is not None:
        text = word("A command comes first, and then what goes with it: break random heron-ferry level=2.")
        raise Unusable(say(text, language))
    near = _near(two, names) or _near(first, {name.partition(" ")[0]: None for name in names})
    unknown = say("I know no “{words}”.", language, words=words[0].value[:40])
    raise Unusable(f"{unknown} {_meant(near, language)}" if near else f"{unknown} {_help(language)}")


def names_of(book: Book, language: str) -> dict[str, Command]:
    """Commands that can be typed, by their English names and those of the language."""
    named = {typed_name(command.name, language): command for command in book.listed}
    return named | {command.name: command for command in book.listed}


def _help(language: str) -> str:
    return say("Type help to see what there is.", language)


def _near(word: str, known: Mapping[str, object]) -> list[str]:
    return get_close_matches(word, list(known), 3, NEAR)


def _meant(names: Sequence[str], language: str) -> str:
    return say("Did you mean {names}?", language, names=_either(names, language))


def _either(names: Sequence[str], language: str) -> str:
    if len(names) < 2:
        return "".join(names)
    return say("{names} or {last}", language, names=", ".join(names[:-1]), last=names[-1])


def _given(
    command: Command, words: Sequence[Word], language: str, tunes: Mapping[str, str]
) -> Iterator[tuple[str, str]]:
    """What was given for each option, the last word for one that was given twice."""
    options = {name_of(option.name, "option", language): option for option in command.typed}
    options |= {option.name: option for option in command.typed}
    named: dict[str, str] = {}
    bare: list[Word] = []
    rest = list(words)
    while rest:
        word = rest.pop(0)
        key = (word.name or word.value).lower()
        if word.name is not None:
            if key not in options:
                raise Unusable(_no_option(command, word.name, options, language))
            named[options[key].name] = word.value
        elif word.quoted or key not in options:
            bare.append(word)
        elif options[key].kind == "yes" and not (rest and rest[0].value.lower() in YES | NO):
            named[options[key].name] = "yes"
        elif rest:
            named[options[key].name] = rest.pop(0).value
        else:
            raise Unusable(say("What {option} shall it be? Type it behind the word.", language, option=key))
    wanted = [option for option in command.typed if option.required and option.name not in named]
    yield from _bare(command, bare, wanted, options, language, tunes)
    yield from _known_tune(command, named, language, tunes)


def _bare(
    command: Command,
    bare: Sequence[Word],
    wanted: Sequence[Option],
    options: Mapping[str, Option],
    language: str,
    tunes: Mapping[str, str],
) -> Iterator[tuple[str, str]]:
    """Values without names, shared out among the required options; one of them takes the words that are over."""
    over = len(bare) - len(wanted)
    at = 0
    for option in wanted:
        taken = 1
        if over > 0 and option.kind in WORDY and not bare[at].quoted:
            taken += _more(bare[at : at + over + 1], option, options, tunes)
            over -= taken - 1
        value = " ".join(word.value for word in bare[at : at + taken])
        at += taken
        if value:
            yield from _known_tune(command, {option.name: value}, language, tunes)
    if at < len(bare):
        raise Unusable(_no_option(command, bare[at].value, options, language))


def _more(
    words: Sequence[Word], option: Option, options: Mapping[str, Option], tunes: Mapping[str, str]
) -> int:
    """How many further words belong to a value: of a tune those that make its name, of a text all."""
    if option.kind != "tune":
        return len(words) - 1
    for count in range(len(words), 0, -1):
        if _plain(" ".join(word.value for word in words[:count])) in _tune_names(tunes):
            return count - 1
    # no tune that is known: up to what looks like something else
    others = (
        word
        for word in words[1:]
        if word.quoted or word.value.isdigit() or _near(word.value.lower(), options)
    )
    last = next(others, None)
    return len(words) - 1 if last is None else words.index(last) - 1


def _tune_names(tunes: Mapping[str, str]) -> dict[str, str]:
    """Short names by all that a tune may be called."""
    return {_plain(name): slug for slug, name in tunes.items()} | {_plain(slug): slug for slug in tunes}


def _plain(text: str) -> str:
    return re.sub(r"[\W_]+", "", text.casefold())


def _known_tune(
    command: Command, given: Mapping[str, str], language: str, tunes: Mapping[str, str]
) -> Iterator[tuple[str, str]]:
    """Tunes by their short names. Raises Unusable for one that is not there, where it is known which are."""
    kinds = {option.name: option.kind for option in command.options}
    names = _tune_names(tunes)
    for name, value in given.items():
        if kinds[name] != "tune" or not tunes:
            yield name, value
        elif _plain(value) in names:
            yield name, names[_plain(value)]
        else:
            near = list(dict.fromkeys(names[found] for found in _near(_plain(value), names)))
            unknown = say("There is no tune “{name}” here.", language, name=value[:40])
            raise Unusable(f"{unknown} {_meant(near or list(tunes)[:5], language)}")


def _no_option(command: Command, word: str, options: Mapping[str, Option], language: str) -> str:
    """What is said of a word that a command has no use for."""
    plain = word.lower()
    chosen = [f"{option.name}={plain}" for option in command.typed if plain in option.choices]
    near = chosen or _near(plain, options)
    unknown = say("{command} has no use for “{word}”.", language, command=command.name, word=word[:40])
    if near:
        return f"{unknown} {_meant(near, language)}"
    if not command.typed:
        return f"{unknown} {say('It takes nothing more.', language)}"
    takes = say("It takes {options}.", language, options=", ".join(option.name for option in command.typed))
    return f"{unknown} {takes}"
