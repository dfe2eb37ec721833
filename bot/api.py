"""The typed client of the service: the bot's only HTTP."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import TracebackType
from typing import Self, TypeVar
from urllib.parse import urlencode

import aiohttp
import msgspec

from schemas.base import Problem
from schemas.breaks import BestIn, BestList, BreakOut, CountOut, Filters, RandomIn, SwapIn, SwapList
from schemas.sounds import SoundOut
from schemas.tunes import TuneList, TuneOut

T = TypeVar("T")
TIMEOUT_S = 15
FILE_TIMEOUT_S = 120  # sound of many minutes takes a while to be made
_NAME = re.compile(r'filename="([^"]+)"')
_NEXT = re.compile(r'<([^>]+)>; rel="next"')


@dataclass(frozen=True, slots=True)
class Fetched:
    """A file, what it is called, and where the next page or part of it is."""

    name: str
    data: bytes
    following: str | None


class Refused(Exception):
    """The service said no; ``problem`` says why."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem.detail)
        self.problem = problem


class Unreachable(Exception):
    """The service did not answer."""


class Client:
    """Use as an async context manager."""

    def __init__(self, base: str, token: str) -> None:
        self._base = base
        self._token = token
        self._session: aiohttp.ClientSession | None = None

    async def __aenter__(self) -> Self:
        self._session = aiohttp.ClientSession(
            self._base,
            headers={"Authorization": f"Bearer {self._token}"},
            timeout=aiohttp.ClientTimeout(total=TIMEOUT_S),
        )
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._session is not None:
            await self._session.close()

    async def tunes(self, group: str) -> list[TuneOut]:
        return (await self._ask("GET", f"/v1/groups/{group}/tunes?limit=200", TuneList)).items

    async def count(self, group: str, tune: str, filters: Filters) -> CountOut:
        return await self._ask("POST", f"/v1/groups/{group}/tunes/{tune}/breaks/count", CountOut, filters)

    async def random_break(self, group: str, tune: str, wish: RandomIn) -> BreakOut:
        return await self._ask("POST", f"/v1/groups/{group}/tunes/{tune}/breaks/random", BreakOut, wish)

    async def best_breaks(self, group: str, tune: str, wish: BestIn) -> BestList:
        return await self._ask("POST", f"/v1/groups/{group}/tunes/{tune}/breaks/best", BestList, wish)

    async def numbered(
        self, group: str, tune: str, number: str, snapshot: str, instrument: str | None
    ) -> BreakOut:
        """Number k of a snapshot."""
        asked = {"snapshot": snapshot} | ({} if instrument is None else {"instrument": instrument})
        path = f"/v1/groups/{group}/tunes/{tune}/breaks/number/{number}?{urlencode(asked)}"
        return await self._ask("GET", path, BreakOut)

    async def swaps(self, group: str, code: str, phrase: int) -> SwapList:
        """Alternatives for a phrase of a break, best first."""
        return await self._ask(
            "POST", f"/v1/groups/{group}/breaks/{code}/swaps", SwapList, SwapIn(phrase=phrase)
        )

    async def swap(self, group: str, code: str, phrase: int, lick: int) -> BreakOut:
        """The break with another lick at a phrase."""
        sent = SwapIn(phrase=phrase, lick=lick)
        return await self._ask("POST", f"/v1/groups/{group}/breaks/{code}/swaps", BreakOut, sent)

    async def one_break(self, group: str, code: str) -> BreakOut:
        return await self._ask("GET", f"/v1/groups/{group}/breaks/{code}", BreakOut)

    async def tab(self, group: str, code: str, layout: str, width: int) -> str:
        path = f"/v1/groups/{group}/breaks/{code}/tab.txt?layout={layout}&width={width}"
        return (await self._bytes("GET", path)).decode()

    async def file(self, path: str) -> Fetched:
        """A picture, sheet, sound or text of a lick, break, loop or tune."""
        content, headers = await self._answer("GET", path, timeout_s=FILE_TIMEOUT_S)
        name = _NAME.search(headers.get("Content-Disposition", ""))
        following = _NEXT.search(headers.get("Link", ""))
        return Fetched(
            name.group(1) if name else path.rpartition("/")[2],
            content,
            following.group(1) if following else None,
        )

    async def sound(self, path: str) -> SoundOut:
        """What a sound is like: ``path`` ends in .json."""
        content, _ = await self._answer("GET", path, timeout_s=FILE_TIMEOUT_S)
        return msgspec.json.decode(content, type=SoundOut)

    async def _ask(self, method: str, path: str, answer: type[T], sent: msgspec.Struct | None = None) -> T:
        return msgspec.json.decode(await self._bytes(method, path, sent), type=answer)

    async def _bytes(self, method: str, path: str, sent: msgspec.Struct | None = None) -> bytes:
        return (await self._answer(method, path, sent))[0]

    async def _answer(
        self, method: str, path: str, sent: msgspec.Struct | None = None, timeout_s: float = TIMEOUT_S
    ) -> tuple[bytes, Mapping[str, str]]:
        if self._session is None:
            raise RuntimeError("the client is used before it was entered")
        body = None if sent is None else msgspec.json.encode(sent)
        try:
            async with self._session.request(
                method,
                path,
                data=body,
                headers={"Content-Type": "application/json"},
                timeout=aiohttp.ClientTimeout(total=timeout_s),
            ) as response:
                content = await response.read()
        except (aiohttp.ClientError, TimeoutError) as error:
            raise Unreachable(str(error)) from error
        if response.status >= 400:
            raise Refused(_problem(content, response.status))
        return content, response.headers


def _problem(content: bytes, status: int) -> Problem:
    try:
        return msgspec.json.decode(content, type=Problem)
    except msgspec.DecodeError:
        text = "The service answered in a way that cannot be read."
        return Problem(
            type="about:blank", title="Error", status=status, detail=text, code="unreadable-answer"
        )
