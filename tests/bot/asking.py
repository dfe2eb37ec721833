"""People of the demo group who ask the bot: real commands through the real front door, a real service behind it."""

import asyncio
import itertools
from collections.abc import Coroutine, Mapping
from dataclasses import replace
from types import TracebackType
from typing import Any, Self, TypeVar

from bot.api.client import Client
from bot.asks import Visitor
from bot.book import Sent
from bot.calls import read, written
from bot.commands.book import book
from bot.front import Front
from bot.replies import Answer, Button, Call, Choice, Form, Reply
from service.usecases.identify import make_token
from tests.support import RunningService

T = TypeVar("T")
GROUP = "/v1/groups/ferry-lane"
SERVER = "77"
MOST_ROWS, MOST_IN_ROW, MOST_CHOICES, LABEL, NOTE = 5, 5, 25, 80, 100  # what chats show


class Asking:
    """``kit`` is an organiser, ``wren`` and ``otter`` are members; anybody else is a stranger on the group's server.

    Every answer is held to what a chat can show, and every button to what it can carry.
    """

    def __init__(self, service: RunningService) -> None:
        self.service = service
        self._runner = asyncio.Runner()
        token = service.call(lambda: make_token(service.house, "bot", None, None))
        self._client = Client(service.address, token)
        self.front = Front(self._client, book())
        self._keys = itertools.count(1)

    def __enter__(self) -> Self:
        bound = self.service.operator.patch(
            GROUP, json={"platform": "chat", "server_id": SERVER}, headers={"If-Match": "*"}
        )
        assert bound.status_code == 200, bound.text
        self._runner.run(self._client.__aenter__())
        for name in ("kit", "wren", "otter"):
            self.join(name, manages_server=name == "kit")
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._runner.run(self._client.__aexit__(kind, error, trace))
        self._runner.close()

    def run(self, work: Coroutine[Any, Any, T]) -> T:
        """Anything else that the bot does."""
        return self._runner.run(work)

    def visitor(self, who: str, **more: object) -> Visitor:
        known = Visitor(
            f"chat:{who}", who.title(), SERVER, "licks", "The ferry", key=f"ask-{next(self._keys)}"
        )
        return replace(known, **more)  # type: ignore[arg-type]

    def join(self, who: str, **sent: object) -> None:
        joined = self.service.operator.post(
            f"{GROUP}/members",
            json={"name": who.title(), **sent},
            headers={
                "Authorization": self._authorization(),
                "On-Behalf-Of": f"chat:{who}",
                "Acting-Server": SERVER,
            },
        )
        assert joined.status_code == 201, joined.text

    def _authorization(self) -> str:
        return f"Bearer {self._client._token}"

    def call(
        self, who: str, call: Call, files: Mapping[str, Sent] | None = None, **visitor: object
    ) -> Answer:
        answer = self._runner.run(self.front.answer(call, self.visitor(who, **visitor), files))
        held(answer)
        return answer

    def answer(self, who: str, command: str, **given: object) -> Reply:
        """What a command replies; ``work_up="yes"`` gives the option ``work-up``."""
        call = Call(command, {name.replace("_", "-"): str(value) for name, value in given.items()})
        reply = self.call(who, call)
        assert isinstance(reply, Reply), reply
        return reply

    def form(self, who: str, command: str, **given: object) -> Form:
        call = Call(command, {name.replace("_", "-"): str(value) for name, value in given.items()})
        form = self.call(who, call)
        assert isinstance(form, Form), form
        return form

    def press(self, who: str, reply: Reply, label: str) -> Answer:
        """What comes of a button, or of a choice of a menu, that begins with a label; it goes over the wire and back."""
        call = pressed(reply, label).call
        wired = read(written(call, book().short_names(call.command)))
        assert wired is not None
        return self.call(who, book().long_names(wired[0]), shown=reply.tab)

    def pressed(self, who: str, reply: Reply, label: str) -> Reply:
        answer = self.press(who, reply, label)
        assert isinstance(answer, Reply), answer
        return answer

    def fill(self, who: str, form: Form, **typed: str) -> Reply:
        """A form sent off: what is typed takes the place of what stood in its blanks."""
        stood = {blank.name: blank.value for blank in form.blanks}
        names = {name.replace("_", "-"): text for name, text in typed.items()}
        assert set(names) <= set(stood), (names, stood)
        reply = self.call(who, replace(form.call, given={**form.call.given, **stood, **names}))
        assert isinstance(reply, Reply), reply
        return reply


def pressed(reply: Reply, label: str) -> Button | Choice:
    """The button or choice of a reply whose label begins so."""
    found = [thing for thing in pressable(reply) if thing.label.startswith(label)]
    assert found, (label, labels(reply))
    return found[0]


def pressable(reply: Reply) -> list[Button | Choice]:
    return [
        *(button for row in reply.buttons for button in row),
        *(c for menu in reply.menus for c in menu.choices),
    ]


def labels(reply: Reply) -> list[str]:
    return [thing.label for thing in pressable(reply)]


def held(answer: Answer) -> None:
    """That a chat can show an answer, and that its buttons lead somewhere."""
    if isinstance(answer, Form):
        assert 1 <= len(answer.title) <= 45
        assert 1 <= len(answer.blanks) <= 5
        for blank in answer.blanks:
            assert 1 <= len(blank.label) <= 45, blank
            assert len(blank.hint) <= 100, blank
            assert len(blank.value) <= blank.most <= 4000, blank
        _leads_somewhere(answer.call)
        return
    assert len(answer.buttons) + len(answer.menus) <= MOST_ROWS
    for row in answer.buttons:
        assert 1 <= len(row) <= MOST_IN_ROW, row
    for menu in answer.menus:
        assert 1 <= len(menu.choices) <= MOST_CHOICES, menu.hint
        assert 1 <= len(menu.hint) <= NOTE
    for thing in pressable(answer):
        assert 1 <= len(thing.label) <= LABEL, thing
        assert not isinstance(thing, Choice) or len(thing.note) <= NOTE, thing
        _leads_somewhere(thing.call)
    if answer.failed:
        assert answer.head


def _leads_somewhere(call: Call) -> None:
    command = book().find(call.command)
    assert command is not None, call
    known = {option.name for option in command.options}
    assert set(call.given) <= known, (call, known)
    written(call, book().short_names(call.command), mark="x" * 4)
