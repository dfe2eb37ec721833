"""How the bot answers interactions: callbacks, and the webhook that goes with each."""

from aiohttp import web

from tests.chat_platform.asked import (
    ANSWER,
    COMMAND,
    COMPONENT,
    DEFERRED,
    MODAL,
    PROPOSALS,
    QUIET_DEFERRED,
    SUBMISSION,
    TYPING,
    UPDATE,
    Asked,
)
from tests.chat_platform.mentions import BY_DEFAULT_IN_INTERACTIONS
from tests.chat_platform.refusals import Refused, form
from tests.chat_platform.rest import WORLD, Handler, answer, body, number, yes
from tests.chat_platform.rules import ANSWER_FLAGS, File, check_form, check_proposals
from tests.chat_platform.wire import EPHEMERAL, LOADING, Json, Message, new_id
from tests.chat_platform.world import World

# What may be answered to what (API reference, "Receiving and Responding", interaction callback types).
FITTING = {
    COMMAND: (ANSWER, DEFERRED, MODAL),
    COMPONENT: (ANSWER, DEFERRED, QUIET_DEFERRED, UPDATE, MODAL),
    TYPING: (PROPOSALS,),
    SUBMISSION: (ANSWER, DEFERRED),
}


async def callback(request: web.Request) -> web.Response:
    world = request.app[WORLD]
    asked = world.asked.get(request.match_info["token"])
    if asked is None or asked.id != number(request, "interaction"):
        raise Refused(10062)
    if asked.acknowledged_after is None and (asked.dead or asked.age_s > world.settings.ack_s):
        world.unanswered(asked)
        raise Refused(10062, known=True)
    data, files = await body(request)
    if asked.acknowledged_after is not None:
        raise Refused(40060)
    kind = data.get("type")
    fitting = FITTING[asked.kind]
    if asked.kind == SUBMISSION and asked.source is not None:
        fitting = (*fitting, QUIET_DEFERRED, UPDATE)
    if kind not in fitting:
        raise form("type", f"{kind} does not answer an interaction of type {asked.kind}.")
    _acknowledge(world, asked, kind, data.get("data") or {}, files)
    asked.answer = kind
    asked.acknowledged_after = asked.age_s
    world.notify()
    if not yes(request, "with_response"):
        return web.Response(status=204)
    return answer(_told(world, asked))


def _acknowledge(world: World, asked: Asked, kind: int, data: Json, files: list[File]) -> None:
    if kind == ANSWER:
        asked.original = _posted(world, asked, data, files)
    elif kind == DEFERRED:
        flags = data.get("flags") or 0
        if flags & ~EPHEMERAL:
            raise form("data.flags", "Only EPHEMERAL can be set when deferring.")
        asked.original = Message(
            new_id(), asked.channel, world.bot, flags=flags | LOADING, interaction=asked.metadata()
        )
        world.place(asked.original, asked)
        asked.made_messages.append(asked.original)
    elif kind == UPDATE:
        asked.original = asked.source
        _update(world, asked, data, files)
    elif kind == QUIET_DEFERRED:
        asked.original = asked.source
    elif kind == PROPOSALS:
        check_proposals(data.get("choices"), asked.option_type)
        asked.choices = data["choices"]
    else:
        check_form(data)
        asked.modal = data


def _posted(world: World, asked: Asked, data: Json, files: list[File]) -> Message:
    made = world.post(
        asked.channel, world.bot, data, files,
        flags=ANSWER_FLAGS, by_default=BY_DEFAULT_IN_INTERACTIONS, asked=asked,
    )  # fmt: skip
    asked.made_messages.append(made)
    return made


def _update(world: World, asked: Asked, data: Json, files: list[File]) -> None:
    assert asked.source is not None
    if asked.source.deleted:
        raise Refused(10008)
    world.edit(asked.source, data, files, BY_DEFAULT_IN_INTERACTIONS)
    asked.updates += 1


def _told(world: World, asked: Asked) -> Json:
    interaction: Json = {"id": str(asked.id), "type": asked.kind}
    resource: Json = {"type": asked.answer}
    if asked.original is not None:
        interaction |= {
            "response_message_id": str(asked.original.id),
            "response_message_loading": asked.original.loading,
            "response_message_ephemeral": asked.original.ephemeral,
        }
        if asked.answer in (ANSWER, UPDATE):
            resource["message"] = asked.original.wire(world.application)
    return {"interaction": interaction, "resource": resource}


# --- the webhook ---------------------------------------------------------------------------------------


def _asked(request: web.Request) -> Asked:
    """Whose webhook a path is: there is none before the acknowledgement, and none after the token's time."""
    world = request.app[WORLD]
    asked = world.asked.get(request.match_info["token"])
    if number(request, "application") != world.application:
        raise Refused(10015)
    if asked is None or asked.age_s > world.settings.token_s:
        raise Refused(50027)
    if asked.acknowledged_after is None or asked.kind == TYPING:
        raise Refused(10015)
    return asked


def _message(request: web.Request, asked: Asked) -> Message:
    wanted = request.match_info["message"]
    if wanted == "@original":
        found = asked.original
    else:
        made = [*asked.made_messages, *([asked.source] if asked.source else [])]
        found = next((message for message in made if str(message.id) == wanted), None)
    if found is None or found.deleted:
        raise Refused(10008)
    return found


async def follow_up(request: web.Request) -> web.Response:
    """The first after a deferral fills the waiting message, and stays as visible as that (API reference)."""
    world = request.app[WORLD]
    asked = _asked(request)
    data, files = await body(request)
    if asked.original is not None and asked.original.loading and not asked.original.deleted:
        _filled(world, asked, asked.original, data, files)
        return answer(asked.original.wire(world.application))
    return answer(_posted(world, asked, data, files).wire(world.application))


def _filled(world: World, asked: Asked, message: Message, data: Json, files: list[File]) -> None:
    world.edit(message, data, files, BY_DEFAULT_IN_INTERACTIONS)
    if message is asked.source:
        asked.updates += 1


async def read(request: web.Request) -> web.Response:
    return answer(_message(request, _asked(request)).wire(request.app[WORLD].application))


async def edit(request: web.Request) -> web.Response:
    world = request.app[WORLD]
    asked = _asked(request)
    message = _message(request, asked)
    data, files = await body(request)
    _filled(world, asked, message, data, files)
    return answer(message.wire(world.application))


async def delete(request: web.Request) -> web.Response:
    asked = _asked(request)
    request.app[WORLD].delete(_message(request, asked))
    return web.Response(status=204)


_WEBHOOK = "/webhooks/{application}/{token}"
ROUTES: tuple[tuple[str, str, Handler], ...] = (
    ("POST", "/interactions/{interaction}/{token}/callback", callback),
    ("POST", _WEBHOOK, follow_up),
    ("GET", f"{_WEBHOOK}/messages/{{message}}", read),
    ("PATCH", f"{_WEBHOOK}/messages/{{message}}", edit),
    ("DELETE", f"{_WEBHOOK}/messages/{{message}}", delete),
)
