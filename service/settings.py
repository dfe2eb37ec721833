"""Settings: one typed place, read from BREAKWRIGHT_* variables. ``breakwright settings`` prints them."""

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated

import msgspec
from msgspec import Meta

PREFIX = "BREAKWRIGHT_"
BOT_PREFIX = "BREAKWRIGHT_BOT_"  # the bot reads those, and looks after them


class Settings(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    data: Annotated[
        str, Meta(min_length=1, description="Folder that holds the database; made if it is not there.")
    ] = "breakwright-data"
    host: Annotated[str, Meta(min_length=1, description="Address to listen on.")] = "127.0.0.1"
    port: Annotated[int, Meta(ge=0, le=65535, description="Port to listen on; 0 takes a free one.")] = 8420
    max_body_bytes: Annotated[int, Meta(ge=1024, description="Largest request body, in bytes.")] = 1_000_000
    requests_per_second: Annotated[
        int, Meta(ge=1, description="Requests a token may make each second over time, before 429.")
    ] = 2000
    request_burst: Annotated[
        int, Meta(ge=1, description="Requests a token may make at once, before the rate counts.")
    ] = 20000
    write_queue: Annotated[
        int, Meta(ge=1, description="Writes that may wait before new ones are turned away (503).")
    ] = 1024
    lattice_cache: Annotated[int, Meta(ge=1, description="Composed tunes kept ready, over all groups.")] = 32
    break_cache: Annotated[int, Meta(ge=1, description="Breaks kept ready to send.")] = 1024
    pool_cache: Annotated[int, Meta(ge=1, description="Groups whose licks are kept ready.")] = 8
    composing_memory_mib: Annotated[
        int, Meta(ge=16, description="MiB for licks, judgements and lattices kept ready, over all groups.")
    ] = 256
    served_kept: Annotated[
        int, Meta(ge=1, description="Breaks remembered for each tune so that none comes twice too soon.")
    ] = 5000
    idempotency_hours: Annotated[
        int, Meta(ge=1, description="Hours for which an Idempotency-Key is remembered.")
    ] = 48
    renders_mib: Annotated[
        int, Meta(ge=1, description="MiB of pictures, sheets and sound kept on disk, over all groups.")
    ] = 512
    render_workers: Annotated[
        int, Meta(ge=1, le=32, description="Processes that make pictures, sheets and sound.")
    ] = 2
    render_queue: Annotated[
        int, Meta(ge=1, description="Renders that may wait before new ones are turned away (503).")
    ] = 32
    file_limit_mib: Annotated[
        int,
        Meta(ge=1, description="MiB that a file of sound may have: the chat's limit for attachments."),
    ] = 10
    recording_mib: Annotated[int, Meta(ge=1, le=100, description="MiB that a recording may have.")] = 8
    recordings_mib: Annotated[
        int, Meta(ge=1, description="MiB of recordings that a group may keep in the database.")
    ] = 256
    group_import_mib: Annotated[
        int, Meta(ge=1, description="MiB that the copy of a group that is imported may have.")
    ] = 64
    import_mib: Annotated[int, Meta(ge=1, description="MiB that a zip of licks may have.")] = 5
    log_level: Annotated[
        str, Meta(pattern="^(debug|info|warning|error)$", description="Least serious log line written.")
    ] = "info"

    @property
    def database(self) -> Path:
        return Path(self.data) / "breakwright.sqlite3"

    @property
    def renders(self) -> Path:
        return Path(self.data) / "renders"


class SettingsError(ValueError):
    """A variable that cannot be used; the message names it and says why."""


def load_settings(environment: Mapping[str, str] | None = None, **given: object) -> Settings:
    """Settings from the environment; ``given`` values (None left out) win. Raises SettingsError."""
    environment = os.environ if environment is None else environment
    values: dict[str, object] = {}
    for name in Settings.__struct_fields__:
        value = environment.get(PREFIX + name.upper())
        if value is not None:
            values[name] = value
    values.update({name: value for name, value in given.items() if value is not None})
    known = {PREFIX + name.upper() for name in Settings.__struct_fields__}
    for name in environment:
        others = name in OTHER_VARIABLES or name.startswith(BOT_PREFIX)
        if name.startswith(PREFIX) and name not in known and not others:
            raise SettingsError(f"{name} is no setting; `breakwright settings` lists them")
    try:
        return msgspec.convert(values, Settings, strict=False)
    except msgspec.ValidationError as error:
        name = next((n for n in Settings.__struct_fields__ if f"$.{n}" in str(error)), "")
        raise SettingsError(f"{PREFIX}{name.upper()}: {error}") from None


# Read elsewhere than in the service.
OTHER_VARIABLES = {"BREAKWRIGHT_TEST_PROFILE", "BREAKWRIGHT_REQUIRE_PARTS"}


def described(settings: Settings) -> list[tuple[str, object, object, str]]:
    """(variable, value, default, help) for each setting."""
    rows = []
    info = msgspec.inspect.type_info(Settings)
    assert isinstance(info, msgspec.inspect.StructType)
    for field in info.fields:
        described_type = field.type
        text = ""
        if isinstance(described_type, msgspec.inspect.Metadata):
            text = str((described_type.extra_json_schema or {}).get("description", ""))
        rows.append((PREFIX + field.name.upper(), getattr(settings, field.name), field.default, text))
    return rows
