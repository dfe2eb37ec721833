"""The typed client of the service: the bot's only HTTP."""

import asyncio
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import TracebackType
from typing import Self, TypeVar
from urllib.parse import quote, urlencode

import aiohttp
import msgspec

from schemas.base import Problem

T = TypeVar("T")
TIMEOUT_S = 15
FILE_TIMEOUT_S = 120  # sound of many minutes takes a while to be made
# Waiting before the same is asked again: of a service that starts anew, or is too busy for a moment; ours.
AGAIN_S = (0.2, 0.8, 2.0)
LONGEST_WAIT_S = 5.0  # a service that asks for more patience than that is told to the player instead
BUSY = frozenset((429, 502, 503, 504))
_NAME = re.compile(r'filename="([^"]+)"')
_NEXT = re.compile(r'<([^>]+)>; rel="next"')
Query = Mapping[str, str | int | float | bool | None]


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


class Slow(Unreachable):
    """It did not answer in time. That is told at once: whoever waited so long does not wait for another try."""


@dataclass(frozen=True, slots=True)
class Acting:
    """For whom something is asked: ``user`` is ``platform:id``, ``server`` the one they ask from; None for whoever holds the token.

    ``key`` is told apart from every other ask: a write that is repeated under it is done once.
    """

    user: str | None = None
    server: str | None = None
    language: str = "en"
    key: str | None = None

    def headers(self) -> dict[str, str]:
        told = {
            "On-Behalf-Of": self.user,
            "Acting-Server": self.server,
            "Accept-Language": self.language,
        }
        return {name: value for name, value in told.items() if value is not None}


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

    async def ask(
        self,
        method: str,
        path: str,
        answer: type[T],
        sent: msgspec.Struct | None = None,
        acting: Acting = Acting(),
        headers: Mapping[str, str] | None = None,
    ) -> T:
        """One question and its answer. Raises Refused, Unreachable."""
        body = None if sent is None else msgspec.json.encode(sent)
        content, _ = await self.exchange(method, path, body, acting, headers)
        return msgspec.json.decode(content, type=answer)

    async def exchange(
        self,
        method: str,
        path: str,
        body: bytes | None = None,
        acting: Acting = Acting(),
        headers: Mapping[str, str] | None = None,
        timeout_s: float = TIMEOUT_S,
    ) -> tuple[bytes, Mapping[str, str]]:
        """Content and headers of an answer. What failed on the way, or met a busy service, is asked again a few times.

        A POST is repeated under its ``key`` alone, for the service then does it once. Raises Refused, Unreachable, Slow.
        """
        told = {"Content-Type": "application/json", **acting.headers(), **(headers or {})}
        if method == "POST" and acting.key is not None:
            told["Idempotency-Key"] = acting.key
        waits = iter(AGAIN_S if method != "POST" or acting.key is not None else ())
        while True:
            try:
                return await self._once(method, path, body, told, timeout_s)
            except _Busy as busy:
                wait = max(next(waits, LONGEST_WAIT_S + 1), busy.wait_s)
                if wait > LONGEST_WAIT_S:
                    raise Refused(busy.problem) from None
            except Slow:
                raise
            except Unreachable:
                wait = next(waits, None) or 0.0
                if not wait:
                    raise
            await asyncio.sleep(wait)

    async def _once(
        self, method: str, path: str, body: bytes | None, headers: Mapping[str, str], timeout_s: float
    ) -> tuple[bytes, Mapping[str, str]]:
        if self._session is None:
            raise RuntimeError("the client is used before it was entered")
        try:
            async with self._session.request(
                method, path, data=body, headers=headers, timeout=aiohttp.ClientTimeout(total=timeout_s)
            ) as response:
                content = await response.read()
        except TimeoutError as error:
            raise Slow(f"no answer in {timeout_s:g} s") from error
        except aiohttp.ClientError as error:
            raise Unreachable(str(error)) from error
        if response.status in BUSY:
            raise _Busy(_problem(content, response.status), _seconds(response.headers.get("Retry-After")))
        if response.status >= 400:
            raise Refused(_problem(content, response.status))
        return content, response.headers


@dataclass(frozen=True, slots=True)
class GroupClient:
    """The pages of one group, asked for on somebody's behalf: paths begin after the group's."""

    client: Client
    group: str
    acting: Acting = field(default_factory=Acting)

    @property
    def base(self) -> str:
        return f"/v1/groups/{self.group}"

    def again(self, what: str) -> Self:
        """The same for a further write within the same ask: under a key of its own."""
        key = None if self.acting.key is None else f"{self.acting.key}.{what}"
        return replace(self, acting=replace(self.acting, key=key))

    async def get(self, path: str, answer: type[T], query: Query | None = None) -> T:
        return await self.client.ask("GET", self.base + path + asked(query), answer, None, self.acting)

    async def post(
        self, path: str, answer: type[T], sent: msgspec.Struct | None = None, revision: str | None = None
    ) -> T:
        return await self.client.ask("POST", self.base + path, answer, sent, self.acting, _if_match(revision))

    async def put(
        self, path: str, answer: type[T], sent: msgspec.Struct | None = None, revision: str | None = None
    ) -> T:
        """``revision`` is the number of what was read before, ``*`` for whatever there is."""
        return await self.client.ask("PUT", self.base + path, answer, sent, self.acting, _if_match(revision))

    async def patch(self, path: str, answer: type[T], sent: msgspec.Struct, revision: str | None = None) -> T:
        return await self.client.ask(
            "PATCH", self.base + path, answer, sent, self.acting, _if_match(revision)
        )

    async def delete(self, path: str, revision: str | None = None) -> None:
        await self.client.exchange("DELETE", self.base + path, None, self.acting, _if_match(revision))

    async def done(self, method: str, path: str, sent: msgspec.Struct | None = None) -> None:
        """Something that is answered without a word."""
        body = None if sent is None else msgspec.json.encode(sent)
        await self.client.exchange(method, self.base + path, body, self.acting)

    async def upload(self, method: str, path: str, data: bytes, kind: str, answer: type[T]) -> T:
        """A file as the body; ``kind`` is its media type."""
        headers = {"Content-Type": kind, **_if_match("*" if method == "PUT" else None)}
        content, _ = await self.client.exchange(
            method, self.base + path, data, self.acting, headers, FILE_TIMEOUT_S
        )
        return msgspec.json.decode(content, type=answer)

    async def file(self, path: str, query: Query | None = None) -> Fetched:
        """A picture, sheet, sound or text; ``path`` begins after the group's, or is a whole one that a file named."""
        whole = path if path.startswith("/v1/") else self.base + path
        content, headers = await self.client.exchange(
            "GET", whole + asked(query), acting=self.acting, timeout_s=FILE_TIMEOUT_S
        )
        name = _NAME.search(headers.get("Content-Disposition", ""))
        following = _NEXT.search(headers.get("Link", ""))
        last = path.partition("?")[0].rpartition("/")[2]
        return Fetched(name.group(1) if name else last, content, following.group(1) if following else None)

    async def text(self, path: str, query: Query | None = None) -> str:
        return (await self.file(path, query)).data.decode()


def asked(query: Query | None) -> str:
    """``{"limit": 5, "q": None}`` as ``?limit=5``."""
    told = {name: _plain(value) for name, value in (query or {}).items() if value is not None}
    return f"?{urlencode(told)}" if told else ""


def _plain(value: str | int | float | bool) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)


def in_path(text: str) -> str:
    """What somebody typed, as one part of a path."""
    return quote(text, safe="") or "%20"


def _if_match(revision: str | None) -> dict[str, str]:
    return {} if revision is None else {"If-Match": revision}


class _Busy(Exception):
    def __init__(self, problem: Problem, wait_s: float) -> None:
        super().__init__(problem.detail)
        self.problem, self.wait_s = problem, wait_s


def _seconds(text: str | None) -> float:
    return float(text) if text is not None and text.isdigit() else 0.0


def _problem(content: bytes, status: int) -> Problem:
    try:
        return msgspec.json.decode(content, type=Problem)
    except msgspec.DecodeError:
        text = "The service answered in a way that cannot be read."
        return Problem(
            type="about:blank", title="Error", status=status, detail=text, code="unreadable-answer"
        )
