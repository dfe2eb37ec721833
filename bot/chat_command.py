"""``breakwright chat``: the group's commands, typed at a terminal to a service that runs somewhere."""

import argparse
import os
import re
from pathlib import Path

from bot.api import people
from bot.api.client import Acting, Client, Refused, Unreachable
from bot.asks import Visitor
from bot.beside import Beside
from bot.commands.book import book
from bot.console import page_of, write_out
from bot.front import Front
from bot.keyboard import Keyboard
from bot.terminal import PLATFORM, Terminal, user_of
from bot.wording import known_language, say, word


class CannotTalk(Exception):
    """There is nobody to talk to, or nobody to talk for."""


def chat(given: argparse.Namespace, beside: Beside) -> None:
    """Until whoever types leaves. Raises CannotTalk."""
    language = known_language(os.environ.get("LANG", "en").replace("_", "-").partition(".")[0])
    page = page_of(given.width)
    if not re.match(r"https?://[^/\s]", given.service):
        text = word("“{address}” is no address of a service: write it like http://127.0.0.1:8420.")
        raise CannotTalk(say(text, language, address=given.service))
    with beside.within(Client(given.service, given.token)) as client:
        try:
            me = beside.run(people.me(client, Acting(language=language)))
        except Refused as refused:
            raise CannotTalk(refused.problem.detail) from None
        except Unreachable:
            text = word("No service answers at {address}. Is it running? Say where with --service.")
            raise CannotTalk(say(text, language, address=given.service)) from None
        user = None if given.name is None else user_of(given.platform, given.name)
        if (me.role == "bot") != (user is not None):
            text = word("A bot's token, and no other, speaks for somebody: say who with --as.")
            raise CannotTalk(say(text, language))
        if me.role == "operator":
            raise CannotTalk(say("An operator's token is no member's. Take a member's.", language))
        visitor = Visitor(
            user,
            given.name or me.name or say("You", language),
            None if user is None else given.server,
            language=language,
        )
        front = Front(client, book(), page, pictures=False)
        bringing = user is not None and given.platform == PLATFORM
        Terminal(
            front,
            visitor,
            beside.run,
            Keyboard(front.book),
            write_out,
            page,
            Path(given.files),
            bringing=bringing,
        ).talk()
