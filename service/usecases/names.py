"""Licks found by words of their names, as somebody types them."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.store import licks as rows
from service.store.licks import NameRow
from service.usecases.house import House

MOST_DIGITS = 7  # of a lick's number


def words_of(text: str) -> list[str]:
    """Without upper or lower case."""
    return text.casefold().split()


def has_words(name: str, words: str) -> bool:
    """Whether a name has each of some words in it, whole or as a part of a longer one."""
    there = words_of(name)
    return all(any(word in other for other in there) for word in words_of(words))


def is_named(number: int, name: str, words: str) -> bool:
    """Whether a lick is one that is looked for: by words of its name, or by its number."""
    return words.strip() == str(number) or has_words(name, words)


@dataclass(frozen=True, slots=True, eq=False)
class Names:
    """Which words are in the names of a group's licks: entry i says that word ``known[words[i]]`` is in the name of lick
    ``numbers[i]``. ``written`` is the newest row that was read. Names that a lick had before are in it too: what is found is
    looked at once more.
    """

    known: dict[str, int]
    words: NDArray[np.int32]
    numbers: NDArray[np.int32]
    written: int

    @property
    def nbytes(self) -> int:
        return 100 * len(self.known) + self.words.nbytes + self.numbers.nbytes

    def found(self, typed: str, after: int) -> NDArray[np.int64]:
        """Numbers beyond ``after``, in order, of the licks that have all that is typed in words of their names."""
        size = int(self.numbers.max(initial=0)) + 1
        left = np.arange(size) > after
        for part in words_of(typed):
            meant = np.fromiter((part in word for word in self.known), bool, len(self.known))
            named = np.zeros(size, bool)
            named[self.numbers[meant[self.words]]] = True
            left &= named
        if typed.isascii() and typed.isdigit() and len(typed) <= MOST_DIGITS and after < int(typed) < size:
            left[int(typed)] = True
        return np.flatnonzero(left)


NONE = Names({}, np.zeros(0, np.int32), np.zeros(0, np.int32), 0)


def _with(names: Names, news: Sequence[NameRow], written: int) -> Names:
    known, words, numbers = dict(names.known), [], []
    for number, name in news:
        for word in words_of(name):
            words.append(known.setdefault(word, len(known)))
            numbers.append(number)
    return Names(
        known,
        np.concatenate((names.words, np.array(words, np.int32))),
        np.concatenate((names.numbers, np.array(numbers, np.int32))),
        written,
    )


async def numbers_named(house: House, group_id: int, typed: str, after: int) -> Iterator[int]:
    """Numbers beyond ``after``, in order, of licks that are called so, or once were; and the one whose number it is."""
    async with house.making(("names", group_id)):
        names = house.names.get(group_id)
        written, news = await rows.names_since(
            house.database.slow, group_id, names.written if names else None
        )
        if names is None or news:
            before = names or NONE
            names = await house.think(lambda: _with(before, news, written))
            house.names.put(group_id, names)
    return iter(names.found(typed.strip(), after).tolist())
