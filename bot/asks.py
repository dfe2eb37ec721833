"""Who asks, from where, and for what: all that a command is given besides its arguments."""

from dataclasses import dataclass, field
from typing import Any

from bot.api.client import GroupClient
from bot.wording import say
from schemas.people import MeOut

PHONE_WIDTH = 28  # columns that a block of fixed width has on a phone


@dataclass(frozen=True, slots=True)
class Page:
    """How a tab is laid out."""

    layout: str = "phone"
    width: int = PHONE_WIDTH


@dataclass(frozen=True, slots=True)
class Visitor:
    """Somebody on a chat platform, or at a terminal. ``user`` is ``platform:id``; ``server`` and ``channel`` are ids there, None in
    a direct message. ``key`` is this ask's own: the same ask delivered twice is done once. ``shown`` is the preformatted text of
    the message whose button was pressed. ``pictures``: whether files can be shown where they ask."""

    user: str | None
    name: str
    server: str | None = None
    channel: str | None = None
    server_name: str = ""
    language: str = "en"
    manages_server: bool = False
    key: str | None = None
    shown: str = ""
    pictures: bool = True


@dataclass(frozen=True, slots=True)
class Ask:
    """``here`` are the pages of the group that is asked in, on behalf of whoever asks; ``me`` is who that is there.

    ``pictures`` tells whether pictures can be seen where the answer goes; else tab is shown as text on a ``page``.
    """

    here: GroupClient
    me: MeOut
    visitor: Visitor
    pictures: bool = True
    page: Page = field(default_factory=Page)

    @property
    def language(self) -> str:
        return self.visitor.language

    @property
    def organises(self) -> bool:
        """Whether to show what organisers alone may do; the service decides in the end."""
        return self.me.role in ("organiser", "operator")

    def say(self, text: str, /, **params: Any) -> str:
        return say(text, self.language, **params)
