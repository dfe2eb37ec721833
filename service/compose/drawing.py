"""Drawing numbers: evenly, repeatably from a seed, and without repeating what was served."""

import hashlib
import secrets
from collections.abc import Callable, Sequence

REDRAWS = 64  # when less than half was served, that many in a row fail once in 2^64


def seeded(seed: str) -> Callable[[int], int]:
    """A ``randbelow`` whose answers depend on the seed alone, the same on every machine.

    Bits come from SHA-256 over the seed and a counter; draws past the limit are rejected, so every
    number below it is equally likely.
    """
    counter = 0

    def randbelow(limit: int) -> int:
        nonlocal counter
        bits = max(1, (limit - 1).bit_length())
        size = -(-bits // 8)
        while True:
            block = b""
            while len(block) < size:
                block += hashlib.sha256(f"{seed}|{counter}".encode()).digest()
                counter += 1
            drawn = int.from_bytes(block[:size], "big") >> (8 * size - bits)
            if drawn < limit:
                return drawn

    return randbelow


def draw_fresh(
    total: int, served: Sequence[int], randbelow: Callable[[int], int] = secrets.randbelow
) -> tuple[int, bool]:
    """A number from 1 to ``total`` that was not served, all such equally likely.

    ``served`` holds distinct numbers. When everything was served, any number is drawn and the second
    value is True: the round begins anew.
    """
    taken = sorted(number for number in served if 1 <= number <= total)
    if len(taken) >= total:
        return 1 + randbelow(total), True
    if 2 * len(taken) < total:
        known = set(taken)
        for _ in range(REDRAWS):
            number = 1 + randbelow(total)
            if number not in known:
                return number, False
    return nth_free(1 + randbelow(total - len(taken)), taken), False


def nth_free(n: int, taken: Sequence[int]) -> int:
    """The n-th number, counted from 1, that is not in the sorted sequence ``taken``."""
    low, high = 0, len(taken)
    while low < high:
        middle = (low + high) // 2
        # numbers free below taken[middle]
        if taken[middle] - 1 - middle < n:
            low = middle + 1
        else:
            high = middle
    return n + low
