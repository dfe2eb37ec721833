"""Where every ask comes in, whatever surface it comes from: who asks is found out, the command is run, and what goes wrong is said."""

import asyncio
import logging
import time
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import replace

from bot.api import people
from bot.api.client import Acting, Client, GroupClient, Refused, Unreachable
from bot.arguments import arguments
from bot.asks import Ask, Page, Visitor
from bot.book import Book, Sent
from bot.calls import TooLong, read, written
from bot.replies import Answer, Button, Call, Choice, Menu, Reply
from bot.trouble import Unusable, failed
from bot.wording import say, word
from schemas.people import MeOut

log = logging.getLogger("breakwright.bot")
SPEAKS = 1  # the number of the API that this bot understands
ANSWER_S = 150  # for an ask, sound of many minutes included; ours
KNOWN_FOR_S, MOST_KNOWN = 30.0, 10_000  # how long, and of how many, it is remembered who somebody is; ours
CHOSEN_FOR_S = 600.0  # how long direct messages are about the group that was meant last; ours
NOWHERE = "-"  # the group's name in pages asked for where there is none; no group can have it


class Front:
    """Answers calls of one book out of one service."""

    def __init__(self, client: Client, book: Book, page: Page | None = None, pictures: bool = True) -> None:
        self.client = client
        self.book = book
        self._page = page or Page()
        self._pictures = pictures
        self._known: OrderedDict[tuple[str | None, str | None], tuple[float, MeOut]] = OrderedDict()
        # in direct messages: until when, and on which server, somebody's group is
        self._chosen: OrderedDict[str, tuple[float, str]] = OrderedDict()

    async def answer(self, call: Call, visitor: Visitor, files: Mapping[str, Sent] | None = None) -> Answer:
        """Whatever comes of a call; what goes wrong too is a reply."""
        begun, outcome = time.monotonic(), "answered"
        try:
            async with asyncio.timeout(ANSWER_S):
                answer = await self._answer(call, visitor, files or {})
            if isinstance(answer, Reply) and answer.failed:
                outcome = "failed"
        except (Refused, Unreachable, Unusable, TimeoutError) as error:
            outcome = error.problem.code if isinstance(error, Refused) else type(error).__name__
            answer = failed(error, call, visitor.language)
        except Exception as error:
            log.exception("a command failed", extra={"command": call.command})
            outcome = "broken"
            answer = failed(error, call, visitor.language)
        log.info(
            "asked",
            extra={
                "command": call.command, "user": visitor.user, "server": visitor.server, "outcome": outcome,
                "ms": round(1000 * (time.monotonic() - begun)),
            },
        )  # fmt: skip
        return answer

    async def _answer(self, call: Call, visitor: Visitor, files: Mapping[str, Sent]) -> Answer:
        command = self.book.find(call.command)
        if command is None:
            raise Unusable(
                say(
                    "That belongs to an older version of me. Ask anew; help lists what there is.",
                    visitor.language,
                )
            )
        given = arguments(command, call.given, files, visitor.language)
        if command.form and not files:
            return await command.run(self._ask(_NOBODY, visitor), **given)
        found = await self._at_home(call, visitor)
        if isinstance(found, Reply):
            return found
        me = await self._who(found)
        if me.speaks != SPEAKS:
            text = word(
                "The service speaks version {theirs} of our language and I speak {ours}. Whoever runs us must bring both up to date."
            )
            raise Unusable(say(text, visitor.language, theirs=me.speaks, ours=SPEAKS))
        if command.joined and me.group is None:
            return _no_group(visitor)
        if command.joined and me.role == "guest":
            return self._not_joined(call, visitor)
        answer = await command.run(self._ask(me, found), **given)
        if not command.joined:
            self._known.pop((found.user, found.server), None)  # it may have made somebody a member
        return await self._gone_on(answer, found) if isinstance(answer, Reply) and answer.then else answer

    async def _gone_on(self, answer: Reply, visitor: Visitor) -> Answer:
        """What comes of the call that a reply goes on with; behind a button where it is a form, which cannot come unasked."""
        wired = read(answer.then)
        call = None if wired is None else self.book.long_names(wired[0])
        command = None if call is None else self.book.find(call.command)
        if call is None or command is None:
            return answer
        if command.form:
            button = Button(say("Go on", visitor.language), call, "main")
            return replace(answer, then="", buttons=((button,), *answer.buttons))
        key = None if visitor.key is None else f"{visitor.key}.then"
        followed = await self._answer(call, replace(visitor, key=key), {})
        if isinstance(followed, Reply):
            return replace(followed, notes=(*followed.notes, answer.head), private=answer.private)
        return followed

    def _ask(self, me: MeOut, visitor: Visitor) -> Ask:
        acting = _acting(visitor)
        return Ask(
            GroupClient(self.client, me.group or NOWHERE, acting),
            me,
            visitor,
            self._pictures and visitor.pictures,
            self._page,
        )

    async def ask_of(self, visitor: Visitor) -> Ask | None:
        """For what is not a command: an ask of a member; None where somebody has not joined."""
        me = await self._who(visitor)
        return None if me.group is None or me.role == "guest" else self._ask(me, visitor)

    def group_meant(self, visitor: Visitor) -> str | None:
        """In direct messages: the group that the last ask was about."""
        if visitor.server is not None or visitor.user is None:
            return None
        _, chosen = self._chosen.get(visitor.user, (0.0, ""))
        known = self._known.get((visitor.user, chosen))
        return None if known is None else known[1].group

    async def _who(self, visitor: Visitor) -> MeOut:
        key, now = (visitor.user, visitor.server), time.monotonic()
        known = self._known.get(key)
        if known is not None and known[0] > now:
            return known[1]
        me = await people.me(self.client, _acting(visitor))
        if me.role != "guest":
            self._known[key] = (now + KNOWN_FOR_S, me)
            while len(self._known) > MOST_KNOWN:
                self._known.popitem(last=False)
        return me

    async def _at_home(self, call: Call, visitor: Visitor) -> Visitor | Reply:
        """In a direct message: the visitor as on the server of the group that is meant, or the question which one it is."""
        if visitor.server is not None or visitor.user is None:
            return visitor
        groups = (await people.groups_of(self.client, _acting(visitor))).items
        servers = {group.slug: group.server_id for group in groups if group.server_id is not None}
        if not servers:
            raise Unusable(
                say(
                    "I know you from no group yet. Join on your group's server first: group join.",
                    visitor.language,
                )
            )
        if call.group is not None and call.group not in servers:
            # what was meant for one group must not be done in another
            raise Unusable(
                say("That is about a group you do not belong to. Type what you want anew.", visitor.language)
            )
        until, chosen = self._chosen.get(visitor.user, (0.0, ""))
        server = servers.get(call.group or "") or (chosen if until > time.monotonic() else None)
        if server not in servers.values():
            server = next(iter(servers.values())) if len(servers) == 1 else None
        if server is None:
            return Reply(
                head=say("Which group is it about?", visitor.language),
                menus=(
                    Menu(
                        say("Your groups", visitor.language),
                        tuple(
                            Choice(group.name[:100], replace(call, group=group.slug))
                            for group in groups
                            if group.server_id is not None
                        ),
                    ),
                ),
                private=True,
            )
        self._chosen[visitor.user] = (time.monotonic() + CHOSEN_FOR_S, server)
        self._chosen.move_to_end(visitor.user)
        while len(self._chosen) > MOST_KNOWN:
            self._chosen.popitem(last=False)
        return replace(visitor, server=server)

    def _not_joined(self, call: Call, visitor: Visitor) -> Reply:
        """What somebody sees who asks for the first time: a button that lets them join and goes on with what they asked."""
        join = Call("group join")
        try:
            then = written(Call(call.command, call.given), self.book.short_names(call.command))
            with_then = Call("group join", {"then": then})
            written(with_then, self.book.short_names("group join"))
            join = with_then
        except TooLong:
            pass  # they ask once more
        return Reply(
            head=say(
                "You have not joined the group yet. One press and you are in, as {name}.",
                visitor.language,
                name=visitor.name,
            ),
            notes=(
                say(
                    "Your name is shown to the group. You can leave, and be erased, at any time.",
                    visitor.language,
                ),
            ),
            buttons=((Button(say("Join", visitor.language), join, "good"),),),
            private=True,
        )


def _no_group(visitor: Visitor) -> Reply:
    if visitor.manages_server:
        return Reply(
            head=say(
                "This server has no group yet. One press makes one, with you as its organiser.",
                visitor.language,
            ),
            buttons=((Button(say("Make our group", visitor.language), Call("group begin"), "good"),),),
            private=True,
        )
    raise Unusable(
        say(
            "This server has no group yet. Whoever manages the server begins it with: group begin.",
            visitor.language,
        )
    )


def _acting(visitor: Visitor) -> Acting:
    return Acting(visitor.user, visitor.server, visitor.language, visitor.key)


_NOBODY = MeOut(role="guest", group=None, member=None, name=None, scopes=None, service="", speaks=SPEAKS)
