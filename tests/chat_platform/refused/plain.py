"""Requests as any program may send them, without the chat library between."""

import json
from typing import Any

import httpx

from tests.chat_platform.asked import Asked
from tests.chat_platform.stand_in import Platform

Json = dict[str, Any]
NAME = {"name": "find", "description": "Find a lick"}


def client(platform: Platform) -> httpx.Client:
    headers = {"Authorization": f"Bot {platform.token}"}
    # Certificates, of which there are none here, would take most of the time to load.
    return httpx.Client(base_url=f"{platform.address}/api/v10", headers=headers, timeout=30, verify=False)


def posted(http: httpx.Client, platform: Platform, data: Json, *files: bytes) -> httpx.Response:
    path = f"/channels/{platform.rooms[0].id}/messages"
    if not files:
        return http.post(path, json=data)
    parts: list[tuple[str, tuple[str | None, bytes | str]]] = [("payload_json", (None, json.dumps(data)))]
    parts += [(f"files[{number}]", (f"{number}.bin", data)) for number, data in enumerate(files)]
    return http.post(path, files=parts)


def code(response: httpx.Response) -> int:
    return int(response.json()["code"])


def button(name: str = "a", **more: Any) -> Json:
    return {"type": 2, "style": 1, "label": name, "custom_id": name} | more


def row(*items: Json) -> Json:
    return {"type": 1, "components": list(items)}


def menu(count: int = 1, **more: Any) -> Json:
    options = [{"label": str(number), "value": str(number)} for number in range(count)]
    return {"type": 3, "custom_id": "menu", "options": options} | more


def asked(platform: Platform, http: httpx.Client) -> Asked:
    assert http.put(f"/applications/{platform.bot.id}/commands", json=[NAME]).status_code == 200
    return platform.run("find", platform.member, platform.rooms[0])


def answered(http: httpx.Client, asked: Asked, kind: int, data: Json | None = None) -> httpx.Response:
    path = f"/interactions/{asked.id}/{asked.token}/callback?with_response=1"
    return http.post(path, json={"type": kind, "data": data or {}})


def followed(platform: Platform, http: httpx.Client, asked: Asked, data: Json) -> httpx.Response:
    return http.post(f"/webhooks/{platform.bot.id}/{asked.token}", json=data)


def field_row(**more: Any) -> Json:
    return row({"type": 4, "custom_id": "field", "style": 1, "label": "Field"} | more)


def label(component: Json, **more: Any) -> Json:
    return {"type": 18, "label": "Label", "component": component} | more
