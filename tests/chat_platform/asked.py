"""What a person asked of the bot, and how the bot has answered so far."""

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Self

from tests.chat_platform.wire import Channel, Json, Message, Person, Server

COMMAND, COMPONENT, TYPING, SUBMISSION = 2, 3, 4, 5
ANSWER, DEFERRED, QUIET_DEFERRED, UPDATE, PROPOSALS, MODAL = 4, 5, 6, 7, 8, 9


class Unanswered(AssertionError):
    """The person saw that the application did not respond."""


@dataclass(eq=False)
class Asked:
    """``kind``: one of the four above; ``answer``: how it was acknowledged, one of the six, none before.

    ``answered_after``: when the first message came after a deferral, in seconds. ``original`` is what ``@original`` means: the
    first answer, or the message whose button was pressed.
    ``updates`` counts changes of that message through this interaction. ``busy``: requests of the bot that have not
    got their answers yet; a test that saw what they do would otherwise be over before the bot knows.
    """

    id: int
    token: str
    kind: int
    person: Person
    channel: Channel
    data: Json
    changed: threading.Condition
    source: Message | None = None
    parent: "Asked | None" = None
    option_type: int = 3
    made: float = field(default_factory=time.monotonic)
    delivered: bool = False
    dead: bool = False
    acknowledged_after: float | None = None
    answered_after: float | None = None
    answer: int | None = None
    original: Message | None = None
    made_messages: list[Message] = field(default_factory=list)
    updates: int = 0
    modal: Json | None = None
    choices: list[Json] | None = None
    busy: int = 0

    def __str__(self) -> str:
        name = self.data.get("name") or self.data.get("custom_id")
        return (
            f"{ {2: 'command', 3: 'click', 4: 'typing', 5: 'form'}[self.kind] } {name} of {self.person.name}"
        )

    @property
    def server(self) -> Server | None:
        return self.channel.server

    @property
    def age_s(self) -> float:
        return time.monotonic() - self.made

    @property
    def deferred(self) -> bool:
        return self.answer in (DEFERRED, QUIET_DEFERRED)

    @property
    def messages(self) -> list[Message]:
        """What the person sees of new messages, in order."""
        return [message for message in self.made_messages if not message.loading and not message.deleted]

    @property
    def message(self) -> Message:
        """The last of them."""
        return self.messages[-1]

    @property
    def answered(self) -> bool:
        return bool(self.messages or self.updates or self.modal is not None or self.choices is not None)

    def wait(self, timeout: float = 10.0) -> Self:
        """Until there is something to see: a message, a changed one, a form or proposals."""
        return self.until(lambda asked: asked.answered, timeout)

    def wait_acknowledged(self, timeout: float = 10.0) -> Self:
        return self.until(lambda asked: asked.acknowledged_after is not None, timeout)

    def until(self, seen: "Callable[[Asked], bool]", timeout: float = 10.0) -> Self:
        """Raises ``Unanswered`` once its time is over, ``TimeoutError`` when it takes too long otherwise."""
        with self.changed:
            self.changed.wait_for(lambda: self.dead or (seen(self) and not self.busy), timeout)
        if seen(self):
            return self
        if self.dead:
            raise Unanswered(f"{self}: the application did not respond")
        raise TimeoutError(f"{self}: acknowledged as {self.answer}, but nothing came in {timeout} s")

    def metadata(self) -> Json:
        """As messages that come of it tell it."""
        found: Json = {
            "id": str(self.id), "type": self.kind, "user": self.person.wire(),
            "authorizing_integration_owners": owners(self.server),
        }  # fmt: skip
        if self.kind == COMPONENT and self.source is not None:
            found["interacted_message_id"] = str(self.source.id)
        if self.kind == SUBMISSION and self.parent is not None:
            found["triggering_interaction_metadata"] = self.parent.metadata()
        return found


def owners(server: Server | None) -> Json:
    """Who installed the bot: a server, or 0 in direct messages (API reference, "Authorizing Integration Owners")."""
    return {"0": str(server.id) if server else "0"}
