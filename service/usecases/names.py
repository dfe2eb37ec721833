"""Licks found by words of their names, as somebody types them."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.store import licks as rows
from service.store.licks import NameRow
from service.usecases.house import House

MOST_DIGITS = 7  # of a lick's number
WORD_BYTES = 250  # that a word takes besides its numbers: string, array, place in the dict


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
    """``licks`` are the numbers of a group's licks by word of their names, ``count`` of them in all and none greater than ``last``;
    ``written`` is the newest row that was read. Names that a lick had before are in it too: what is found is looked at once more.
    """

    licks: dict[str, NDArray[np.int32]]
    count: int
    last: int
    written: int

    @property
    def nbytes(self) -> int:
        return WORD_BYTES * len(self.licks) + np.dtype(np.int32).itemsize * self.count

    def found(self, typed: str, after: int) -> NDArray[np.int64]:
        """Numbers beyond ``after``, in order, of the licks that have all that is typed in words of their names."""
        left = np.arange(self.last + 1) > after
        for part in words_of(typed):
            named = np.zeros(self.last + 1, bool)
            for word, numbers in self.licks.items():
                if part in word:
                    named[numbers] = True
            left &= named
        number = int(typed) if typed.isascii() and typed.isdigit() and len(typed) <= MOST_DIGITS else 0
        if after < number <= self.last:
            left[number] = True
        return np.flatnonzero(left)


NONE = Names({}, 0, 0, 0)


def _with(names: Names, news: Sequence[NameRow], written: int) -> Names:
    licks, last = dict(names.licks), names.last
    added: dict[str, list[int]] = {}
    for number, name in news:
        last = max(last, number)
        for word in words_of(name):
            added.setdefault(word, []).append(number)
    for word, numbers in added.items():
        new = np.array(numbers, np.int32)
        licks[word] = np.concatenate((licks[word], new)) if word in licks else new
    return Names(licks, names.count + sum(map(len, added.values())), last, written)


async def numbers_named(house: House, group_id: int, typed: str, after: int) -> Iterator[int]:
    """Numbers beyond ``after``, in order, of licks that are called so, or once were; and the one whose number it is."""
    async with house.making(("names", group_id)):
        names = house.names.get(group_id)
        written, news = await rows.names_since(
            house.database.slow, group_id, names.written if names else None
        )
        if names is None:  # it may be many
            names = await house.think(lambda: _with(NONE, news, written))
        elif news:
            names = _with(names, news, written)
        house.names.put(group_id, names)
    return iter(names.found(typed.strip(), after).tolist())
