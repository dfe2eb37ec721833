"""Settings of the bot: read from BREAKWRIGHT_BOT_* variables. ``breakwright settings`` prints them beside the service's."""

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated

import msgspec
from msgspec import Meta

PREFIX = "BREAKWRIGHT_BOT_"


class BotSettings(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    token: Annotated[str, Meta(description="The application's token, as the chat platform gave it.")] = ""
    service: Annotated[str, Meta(min_length=1, description="Address of the service.")] = (
        "http://127.0.0.1:8420"
    )
    service_token: Annotated[
        str, Meta(description="The bot's token for the service: `breakwright token --role bot` makes one.")
    ] = ""
    data: Annotated[
        str, Meta(min_length=1, description="Folder where the bot remembers which commands it made known.")
    ] = "breakwright-bot-data"
    health_host: Annotated[str, Meta(min_length=1, description="Address that health is asked at.")] = (
        "127.0.0.1"
    )
    health_port: Annotated[
        int, Meta(ge=0, le=65535, description="Port that health is asked at; 0 takes a free one.")
    ] = 8421
    shards: Annotated[
        int,
        Meta(ge=0, le=1000, description="Connections to share servers among; 0 asks the platform how many."),
    ] = 0
    poll_s: Annotated[
        float, Meta(gt=0, le=60, description="Seconds between looks for posts that are to be sent.")
    ] = 2.0
    lease_s: Annotated[
        int, Meta(ge=5, le=900, description="Seconds that the bot has for bringing posts it claimed.")
    ] = 60
    grace_s: Annotated[
        float, Meta(ge=0, le=120, description="Seconds that answers under way are given when the bot ends.")
    ] = 10.0
    rest: Annotated[str, Meta(description="Another address for the platform's HTTP, for tests.")] = ""
    gateway: Annotated[str, Meta(description="Another address for the platform's gateway, for tests.")] = ""
    log_level: Annotated[
        str,
        Meta(pattern="^(debug|info|warning|error)$", description="Least serious log line the bot writes."),
    ] = "info"

    @property
    def folder(self) -> Path:
        return Path(self.data)


class BotSettingsError(ValueError):
    """A variable that cannot be used; the message names it and says why."""


def load_bot_settings(environment: Mapping[str, str] | None = None) -> BotSettings:
    """Settings from the environment. Raises BotSettingsError."""
    environment = os.environ if environment is None else environment
    names = BotSettings.__struct_fields__
    for name in environment:
        if name.startswith(PREFIX) and name.removeprefix(PREFIX).lower() not in names:
            raise BotSettingsError(f"{name} is no setting; `breakwright settings` lists them")
    values = {
        name: environment[PREFIX + name.upper()] for name in names if PREFIX + name.upper() in environment
    }
    try:
        return msgspec.convert(values, BotSettings, strict=False)
    except msgspec.ValidationError as error:
        name = next((name for name in names if f"$.{name}" in str(error)), "")
        raise BotSettingsError(f"{PREFIX}{name.upper()}: {error}") from None


SECRETS = frozenset(("token", "service_token"))


def told(settings: BotSettings) -> list[tuple[str, str, str, str]]:
    """(variable, value, default, help) for each setting; of a secret only whether it is set."""
    rows = []
    info = msgspec.inspect.type_info(BotSettings)
    assert isinstance(info, msgspec.inspect.StructType)
    for field in info.fields:
        schema = field.type.extra_json_schema if isinstance(field.type, msgspec.inspect.Metadata) else None
        text = str((schema or {}).get("description", ""))
        value, default = str(getattr(settings, field.name)), str(field.default)
        if field.name in SECRETS:
            value = "(set)" if value else ""
        rows.append((PREFIX + field.name.upper(), value, default, text))
    return rows
