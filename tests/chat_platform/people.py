"""What people do: type commands, press buttons, choose, fill in forms, write. Each becomes an interaction or a message.

Whatever the platform's own programs would not let a person do raises ``CannotBeAsked``.
"""

import secrets
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from tests.chat_platform.asked import COMMAND, COMPONENT, SUBMISSION, TYPING, Asked, owners
from tests.chat_platform.commands import (
    ANYBODY,
    CHANNEL,
    FILE,
    ROLE,
    USER,
    CannotBeAsked,
    check_given,
    found_command,
)
from tests.chat_platform.rules import SELECTS
from tests.chat_platform.wire import (
    ADMINISTRATOR,
    DM,
    PUBLIC_THREAD,
    Attachment,
    Channel,
    Json,
    Member,
    Message,
    Person,
    Role,
    new_id,
)
from tests.chat_platform.world import World


@dataclass(frozen=True)
class Upload:
    """A file that a person sends. What it says of its kind may be false, as with real people."""

    name: str
    data: bytes
    content_type: str | None = None


def _member_wire(member: Member, *, with_user: bool = True) -> Json:
    return member.wire(with_user=with_user) | {"permissions": str(_bits(member))}


def _bits(member: Member) -> int:
    bits = member.permissions
    for role in member.roles:
        bits |= role.permissions
    return (1 << 53) - 1 if bits & ADMINISTRATOR else bits


@dataclass
class People:
    world: World

    # --- commands --------------------------------------------------------------------------------------

    def run(self, command: str, person: Person, where: Channel, options: Mapping[str, Any]) -> Asked:
        words = command.removeprefix("/").split()
        entry, path, parameters = self._command(words, person, where)
        check_given(parameters, dict(options))
        resolved: Json = {}
        given = [
            {
                "name": p["name"],
                "type": p["type"],
                "value": self._value(p, options[p["name"]], where, resolved),
            }
            for p in parameters
            if p["name"] in options
        ]
        return self._ask(COMMAND, person, where, _command_data(entry, path, given, resolved))

    def type_ahead(
        self,
        command: str,
        focused: str,
        text: Any,
        person: Person,
        where: Channel,
        options: Mapping[str, Any],
    ) -> Asked:
        """Somebody types into an option; other options may have values by then."""
        entry, path, parameters = self._command(command.removeprefix("/").split(), person, where)
        parameter = next((p for p in parameters if p["name"] == focused), None)
        if parameter is None or not parameter.get("autocomplete"):
            raise CannotBeAsked(f"nothing is proposed for {focused}")
        given = [
            {"name": p["name"], "type": p["type"], "value": options[p["name"]]}
            for p in parameters
            if p["name"] in options and p["name"] != focused
        ]
        given.append({"name": focused, "type": parameter["type"], "value": text, "focused": True})
        asked = self._asked(TYPING, person, where, _command_data(entry, path, given, {}))
        asked.option_type = parameter["type"]
        return self._send(asked)

    def menu_command(self, name: str, target: Message | Person, person: Person, where: Channel) -> Asked:
        """A command in the menu of a message or of a person."""
        kind = 3 if isinstance(target, Message) else 2
        entry = next((c for c in self._offered(where) if (c["name"], c["type"]) == (name, kind)), None)
        if entry is None:
            raise CannotBeAsked(f"there is no entry {name}")
        self._check_allowed(entry, person, where)
        resolved: Json = {}
        if isinstance(target, Message):
            resolved["messages"] = {str(target.id): target.wire(self.world.application)}
        else:
            self._resolve_person(target, where, resolved)
        data = _command_data(entry, [], [], resolved) | {"target_id": str(target.id)}
        return self._ask(COMMAND, person, where, data)

    def _offered(self, where: Channel) -> list[Json]:
        """A server's own commands come before those for all."""
        own = self.world.commands.get(where.server.id, []) if where.server else []
        return [*own, *self.world.commands.get(None, [])]

    def _command(
        self, words: list[str], person: Person, where: Channel
    ) -> tuple[Json, list[Json], list[Json]]:
        found = found_command(self._offered(where), words)
        self._check_allowed(found[0], person, where)
        return found

    def _check_allowed(self, command: Json, person: Person, where: Channel) -> None:
        context = 1 if where.kind == DM else 0
        contexts = command.get("contexts")
        if contexts is not None and context not in contexts:
            raise CannotBeAsked(f"/{command['name']} is not offered here")
        if contexts is None and context == 1 and command.get("dm_permission") is False:
            raise CannotBeAsked(f"/{command['name']} is not offered here")
        needed = command.get("default_member_permissions")
        if where.server is not None and needed is not None:
            has = _bits(where.server.members[person.id])
            if has != (1 << 53) - 1 and (int(needed) == 0 or has & int(needed) != int(needed)):
                raise CannotBeAsked(f"/{command['name']} is not offered to {person.name}")

    def _value(self, parameter: Json, value: Any, where: Channel, resolved: Json) -> Any:
        kind = parameter["type"]
        if kind == FILE:
            if not isinstance(value, Upload):
                raise CannotBeAsked(f"the option {parameter['name']} takes an Upload")
            stored = self._uploaded(value)
            resolved.setdefault("attachments", {})[str(stored.id)] = stored.wire()
            return str(stored.id)
        if kind == USER or (kind == ANYBODY and isinstance(value, Person)):
            self._resolve_person(value, where, resolved)
        elif kind == CHANNEL:
            resolved.setdefault("channels", {})[str(value.id)] = self._channel_wire(value)
        elif kind in (ROLE, ANYBODY):
            resolved.setdefault("roles", {})[str(value.id)] = value.wire()
        else:
            return value
        return str(value.id)

    def _resolve_person(self, person: Person, where: Channel, resolved: Json) -> None:
        resolved.setdefault("users", {})[str(person.id)] = person.wire()
        member = where.server.members.get(person.id) if where.server else None
        if member is not None:
            resolved.setdefault("members", {})[str(person.id)] = _member_wire(member, with_user=False)

    def _uploaded(self, upload: Upload) -> Attachment:
        if len(upload.data) > self.world.settings.size_limit:
            raise CannotBeAsked(f"{upload.name} is too large to be sent")
        return self.world.upload(upload.name, upload.data, kind=upload.content_type)

    # --- buttons, menus and forms ----------------------------------------------------------------------

    def press(self, message: Message, button: str, person: Person) -> Asked:
        """``button``: its custom id, or its label."""
        item = _item(
            message, lambda i: i["type"] == 2 and button in (i.get("custom_id"), i.get("label")), button
        )
        if item["style"] == 5:
            raise CannotBeAsked(f"{button} is a link")
        data = {"custom_id": item["custom_id"], "component_type": 2, "id": item["id"]}
        return self._click(message, item, data, person)

    def select(self, message: Message, menu: str, chosen: Sequence[Any], person: Person) -> Asked:
        """``chosen``: values of a menu of texts, else people, roles or channels."""
        item = _item(message, lambda i: i["type"] in SELECTS and i["custom_id"] == menu, menu)
        resolved: Json = {}
        values = self._chosen(item, chosen, message.channel, resolved)
        data = {"custom_id": menu, "component_type": item["type"], "id": item["id"], "values": values}
        if item["type"] != 3:
            data["resolved"] = resolved
        return self._click(message, item, data, person)

    def _chosen(self, menu: Json, chosen: Sequence[Any], where: Channel, resolved: Json) -> list[str]:
        least, most = menu.get("min_values", 1), menu.get("max_values", 1)
        if not least <= len(chosen) <= most:
            raise CannotBeAsked(f"{menu['custom_id']} takes {least} to {most}")
        if menu["type"] == 3:
            known = {option["value"] for option in menu["options"]}
            if not set(chosen) <= known:
                raise CannotBeAsked(f"{menu['custom_id']} offers {sorted(known)}")
            return list(chosen)
        for one in chosen:
            kind = USER if isinstance(one, Person) else ROLE if isinstance(one, Role) else CHANNEL
            self._value({"type": kind, "name": menu["custom_id"]}, one, where, resolved)
        return [str(one.id) for one in chosen]

    def _click(self, message: Message, item: Json, data: Json, person: Person) -> Asked:
        if item.get("disabled"):
            raise CannotBeAsked(f"{item['custom_id']} is disabled")
        if message.deleted or (message.for_person not in (None, person)):
            raise CannotBeAsked(f"{person.name} does not see this message")
        return self._ask(COMPONENT, person, message.channel, data, source=message)

    def submit(self, asked: Asked, texts: Mapping[str, Any], person: Person | None = None) -> Asked:
        """Fill in the form that was an answer. What is not told is sent as it was filled in beforehand."""
        form = asked.modal
        if form is None:
            raise CannotBeAsked("there is no form")
        left = dict(texts)
        resolved: Json = {}
        parts = [
            self._filled(number, part, left, asked.channel, resolved)
            for number, part in enumerate(form["components"])
        ]
        if left:
            raise CannotBeAsked(f"the form has no {min(left)}")
        data = {"custom_id": form["custom_id"], "components": parts, "resolved": resolved}
        return self._ask(
            SUBMISSION, person or asked.person, asked.channel, data, source=asked.source, parent=asked
        )

    def _filled(self, number: int, part: Json, texts: dict[str, Any], where: Channel, resolved: Json) -> Json:
        if part["type"] == 10:
            return {"type": 10, "id": number + 1}
        if part["type"] == 1:
            return {"type": 1, "id": number + 1, "components": [
                self._field(field, texts, where, resolved) for field in part["components"]
            ]}  # fmt: skip
        field = self._field(part["component"], texts, where, resolved)
        return {"type": 18, "id": number + 1, "component": field}

    def _field(self, field: Json, texts: dict[str, Any], where: Channel, resolved: Json) -> Json:
        name, kind = field["custom_id"], field["type"]
        found: Json = {"type": kind, "id": 100, "custom_id": name}
        required = field.get("required", True)
        if kind == 4:
            text = texts.pop(name, field.get("value") or "")
            least, most = field.get("min_length") or 0, field.get("max_length") or 4000
            if (required and not text) or (text and not least <= len(text) <= most):
                raise CannotBeAsked(
                    f"the field {name} takes {max(least, int(required))} to {most} characters"
                )
            return found | {"value": text}
        value = texts.pop(name, None)
        if kind in SELECTS:
            if value is None and not required:
                return found | {"values": []}
            defaults = [option["value"] for option in field.get("options", []) if option.get("default")]
            return found | {"values": self._chosen(field, value or defaults, where, resolved)}
        if kind == 19:
            stored = [self._uploaded(upload) for upload in value or []]
            if required and not stored:
                raise CannotBeAsked(f"the field {name} takes a file")
            resolved.setdefault("attachments", {}).update({str(one.id): one.wire() for one in stored})
            return found | {"values": [str(one.id) for one in stored]}
        return found | ({"values": value or []} if kind == 22 else {"value": value})

    # --- messages --------------------------------------------------------------------------------------

    def say(self, person: Person, where: Channel, content: str, uploads: Sequence[Upload] = ()) -> Message:
        made = self.world.post(where, person, {"content": content or "\u200b"}, [], flags=0)
        made.attachments = [self._uploaded(upload) for upload in uploads]
        return made

    # --- interactions ----------------------------------------------------------------------------------

    def _ask(self, kind: int, person: Person, where: Channel, data: Json, **more: Any) -> Asked:
        return self._send(self._asked(kind, person, where, data, **more))

    def _asked(self, kind: int, person: Person, where: Channel, data: Json, **more: Any) -> Asked:
        if where.gone or (where.server is not None and not where.server.present):
            raise CannotBeAsked("the bot is not here")
        if where.server is not None and person.id not in where.server.members:
            raise CannotBeAsked(f"{person.name} is not here")
        return Asked(
            new_id(), secrets.token_urlsafe(24), kind, person, where, data, self.world.changed, **more
        )  # fmt: skip

    def _send(self, asked: Asked) -> Asked:
        where = asked.channel
        found: Json = {
            "id": str(asked.id), "application_id": str(self.world.application), "type": asked.kind,
            "token": asked.token, "version": 1, "data": asked.data, "channel_id": str(where.id),
            "channel": self._channel_wire(where), "locale": asked.person.locale, "entitlements": [],
            "app_permissions": str(where.bot_bits), "authorizing_integration_owners": owners(where.server),
            "context": 0 if where.server else 1, "attachment_size_limit": self.world.settings.size_limit,
        }  # fmt: skip
        if asked.source is not None:
            found["message"] = asked.source.wire(self.world.application)
        if where.server is None:
            found["user"] = asked.person.wire()
        else:
            server = where.server
            found |= {
                "guild_id": str(server.id), "guild_locale": server.locale,
                "guild": {"id": str(server.id), "locale": server.locale, "features": []},
                "member": _member_wire(server.members[asked.person.id]),
            }  # fmt: skip
        self.world.ask(asked, found)
        return asked

    def _channel_wire(self, channel: Channel) -> Json:
        found = channel.wire()
        if channel.kind != DM:
            found["permissions"] = str(channel.bot_bits)
        if channel.kind == PUBLIC_THREAD:
            assert channel.parent is not None
            found["parent_id"] = str(channel.parent.id)
        return found


def _command_data(entry: Json, path: list[Json], given: list[Json], resolved: Json) -> Json:
    for step in reversed(path):
        given = [{"name": step["name"], "type": step["type"], "options": given}]
    data: Json = {"id": entry["id"], "name": entry["name"], "type": entry["type"], "options": given}
    if "guild_id" in entry:
        data["guild_id"] = entry["guild_id"]
    return data | ({"resolved": resolved} if resolved else {})


def _item(message: Message, fits: Callable[[Json], bool], name: str) -> Json:
    found = next((item for item in message.items if fits(item)), None)
    if found is None:
        there = [item.get("custom_id") or item.get("label") for item in message.items]
        raise CannotBeAsked(f"there is no {name} on the message, only {there}")
    return found
