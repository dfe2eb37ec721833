"""The group and its people: begun, joined, left; who is in it, who organises."""

import re

from bot.api import groups, people
from bot.api.client import Acting, GroupClient, Refused
from bot.arguments import slug_of
from bot.asks import Ask
from bot.book import Command, Option
from bot.commands.asking_twice import SURE, ask_twice
from bot.commands.reading import member_named
from bot.replies import Answer, Button, Call, Reply, moment
from bot.trouble import Unusable
from bot.wording import word
from schemas.base import NAME
from schemas.groups import GroupIn
from schemas.people import InvitationIn, MemberIn, MemberPatch

MOST_LISTED = 25  # members named in one reply; ours
MOST_NAMES = 20  # short names tried for a new group, with a count behind them; ours
ROLES = ("organiser", "member")
_WHOLE_NAME = re.compile(NAME)


async def begin(ask: Ask) -> Answer:
    """A group for the server, with whoever asks as its organiser."""
    visitor = ask.visitor
    if ask.me.group is not None:
        return await join(ask)
    if visitor.server is None or visitor.user is None or not visitor.manages_server:
        raise Unusable(ask.say("Whoever manages the server begins its group there, with: group begin."))
    name = _plain(visitor.server_name) or ask.say("Our jam")
    here = await _made(ask, name, visitor.user.partition(":")[0], visitor.server)
    me = await people.join(here, MemberIn(name=_own_name(ask), manages_server=True))
    return Reply(
        head=ask.say("{group} is here, {name}. You are its organiser.", group=name, name=me.name),
        notes=(
            ask.say("1. Choose where posts go and when your week begins: group set-up."),
            ask.say("2. Bring your tunes and licks in."),
            ask.say("3. Everybody else joins with their first question to me."),
        ),
        buttons=(
            (
                Button(ask.say("Set it up"), Call("group set-up"), "main"),
                Button(ask.say("Help"), Call("help")),
            ),
        ),
        private=True,
    )


async def _made(ask: Ask, name: str, platform: str, server: str) -> GroupClient:
    """The pages of the server's new group; of the one it has, if somebody was quicker."""
    stem = slug_of(name)
    stem = stem if stem[0].isalpha() else f"jam-{stem}".strip("-")
    for count in range(1, MOST_NAMES + 1):
        slug = stem[:40] if count == 1 else f"{stem[:36].rstrip('-')}-{count}"
        here = GroupClient(ask.here.client, slug, ask.here.acting)
        # nobody's: a bot makes groups as itself, not for somebody
        nobody = Acting(language=ask.language, key=here.again(f"begin-{count}").acting.key)
        wanted = GroupIn(slug=slug, name=name, language=ask.language, platform=platform, server_id=server)
        try:
            await people.make_group(ask.here.client, nobody, wanted)
            return here
        except Refused as refused:
            if refused.problem.code == "server-bound":
                me = await people.me(ask.here.client, ask.here.acting)
                return GroupClient(ask.here.client, me.group or slug, ask.here.acting)
            if refused.problem.code != "exists":
                raise
    raise Unusable(ask.say("I find no short name that is free: give the server another name first."))


def _plain(text: str) -> str:
    """A name without what names may not have: signs that cannot be seen, for one."""
    kept = "".join(sign for sign in text if sign.isspace() or _WHOLE_NAME.search(sign))
    return " ".join(kept.split())[:120]


def _own_name(ask: Ask) -> str:
    return _plain(ask.visitor.name) or ask.say("Somebody")


async def join(ask: Ask, then: str = "", invitation: str | None = None) -> Answer:
    """Whoever asks becomes a member, and what they asked before goes on."""
    if ask.me.group is None:
        raise Unusable(
            ask.say("This server has no group yet. Whoever manages the server begins it with: group begin.")
        )
    wanted = MemberIn(name=_own_name(ask), invitation=invitation, manages_server=ask.visitor.manages_server)
    me = await people.join(ask.here.again("join"), wanted)
    first = Button(ask.say("What is on"), Call("challenge now"), "main")
    return Reply(
        head=ask.say("Welcome, {name}: you are in.", name=me.name),
        notes=(ask.say("Another name: group name-me. What I can do: help."),),
        buttons=((first, Button(ask.say("Help"), Call("help"))),),
        private=True,
        then=then,
    )


async def leave(ask: Ask, sure: bool = False) -> Answer:
    if not sure:
        return ask_twice(
            ask,
            ask.say("Leave {group}?", group=(await groups.group(ask.here)).name),
            ask.say("Leave"),
            Call("group leave"),
            ask.say(
                "What you sent in stays, with your name. You can come back; to be erased: group erase-me."
            ),
        )
    await groups.leave(ask.here, _number(ask))
    return Reply(head=ask.say("You have left the group. Come back when you like."), private=True)


def _number(ask: Ask) -> int:
    if ask.me.member is None:
        raise Unusable(ask.say("Only members can do that."))
    return ask.me.member


async def members(ask: Ask) -> Answer:
    found = await people.every_member(ask.here)
    notes = [
        ask.say("{name}, organiser", name=one.name) if one.role == "organiser" else one.name
        for one in found[:MOST_LISTED]
    ]
    if len(found) > MOST_LISTED:
        notes.append(ask.say("And {count} more.", count=len(found) - MOST_LISTED))
    return Reply(head=ask.say("Members: {count}", count=len(found)), notes=tuple(notes), private=True)


async def invite(ask: Ask, role: str = "member", uses: int = 1, days: int = 7) -> Answer:
    made = await groups.invite(
        ask.here,
        InvitationIn(role=role, uses=uses, days=days),  # type: ignore[arg-type]
    )
    if made.code is None:
        raise Unusable(ask.say("That invitation was shown already, once. Make another one."))
    return Reply(
        head=ask.say("They join with this code, on this server: group join."),
        tab=made.code,
        notes=(
            ask.say(
                "So many may join with it: {uses}. Until {moment}.",
                uses=made.uses,
                moment=moment(made.expires),
            ),
            ask.say("It is shown this once."),
        ),
        private=True,
    )


async def name_me(ask: Ask, name: str) -> Answer:
    me = await groups.change_member(ask.here, _number(ask), MemberPatch(name=name))
    return Reply(head=ask.say("You are {name} now.", name=me.name), private=True)


async def role(ask: Ask, member: str, organiser: bool) -> Answer:
    whose = await member_named(ask, member)
    changed = await groups.change_member(
        ask.here, whose.number, MemberPatch(role="organiser" if organiser else "member")
    )
    said = (
        ask.say("{name} organises from now on.", name=changed.name)
        if changed.role == "organiser"
        else ask.say("{name} is a member like others now.", name=changed.name)
    )
    return Reply(head=said)


COMMANDS = (
    Command("group begin", word("Begin a group for this server."), begin, private=True, joined=False),
    Command(
        "group join",
        word("Join the group of this server."),
        join,
        (
            Option("invitation", "text", word("The code, if you were given one."), "i", most=64),
            Option("then", "text", word("What to go on with."), "t", most=100, hidden=True),
        ),
        private=True,
        joined=False,
    ),
    Command("group leave", word("Leave the group."), leave, (SURE,), private=True),
    Command("group members", word("Who is in it, and who organises."), members, private=True),
    Command(
        "group invite",
        word("Make a code that lets somebody join."),
        invite,
        (
            Option("role", "choice", word("What they become."), "r", choices=ROLES),
            Option("uses", "whole", word("How many may join with it."), "u", least=1, most=1000),
            Option("days", "whole", word("For how many days."), "d", least=1, most=3650),
        ),
        private=True,
        organisers=True,
    ),
    Command(
        "group name-me",
        word("Be called something else."),
        name_me,
        (Option("name", "text", word("Your name in the group."), "n", required=True, most=120),),
        private=True,
    ),
    Command(
        "group role",
        word("Make somebody an organiser, or a member like others."),
        role,
        (
            Option("member", "member", word("Who."), "m", required=True),
            Option("organiser", "yes", word("Yes for an organiser, no for a member."), "o", required=True),
        ),
        organisers=True,
    ),
)
