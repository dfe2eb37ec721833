"""The book of commands as the chat's command tree, and making it known there when it has changed."""

import hashlib
import logging
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import discord
import msgspec
from discord import AppCommandOptionType as Kind

from bot.book import Book, Command, Option
from bot.completing import MEANT
from bot.wording import languages, name_of, say

log = logging.getLogger("breakwright.bot")
# Locales of the platform that a language of ours serves.
LOCALES = {"de": ("de",), "es": ("es-ES", "es-419")}
KINDS = {
    "whole": Kind.integer,
    "yes": Kind.boolean,
    "file": Kind.attachment,
    "channel": Kind.channel,
}  # everything else is text
IN_SERVERS, IN_DIRECT_MESSAGES = 0, 1
TEXT_CHANNELS = (discord.ChannelType.text.value, discord.ChannelType.news.value)
LONGEST_ABOUT = 100
KNOWN_FILE = "commands.json"  # which tree was made known last, by application


def tree(book: Book) -> list[dict[str, Any]]:
    """The payload for all commands that can be typed."""
    alone = [_command(command) for command in book.listed if " " not in command.name]
    return alone + [
        _family(name, about, book.listed) for name, about in book.families.items() if _of(name, book)
    ]


def _of(family: str, book: Book) -> list[Command]:
    return [command for command in book.listed if command.name.startswith(f"{family} ")]


def _command(command: Command) -> dict[str, Any]:
    return {**_named(command.name, command.about, "command"), **_where(), "options": _options(command)}


def _family(name: str, about: str, listed: Sequence[Command]) -> dict[str, Any]:
    inner = [
        {
            **_named(command.name.partition(" ")[2], command.about, "command"),
            "type": Kind.subcommand.value,
            "options": _options(command),
        }
        for command in listed
        if command.name.startswith(f"{name} ")
    ]
    return {**_named(name, about, "command"), **_where(), "options": inner}


def _where() -> dict[str, Any]:
    return {
        "type": discord.AppCommandType.chat_input.value,
        "contexts": [IN_SERVERS, IN_DIRECT_MESSAGES],
        "integration_types": [0],
    }


def _options(command: Command) -> list[dict[str, Any]]:
    return [
        _option(option)
        for option in sorted(command.options, key=lambda option: not option.required)
        if not option.hidden
    ]


def _option(option: Option) -> dict[str, Any]:
    kind = KINDS.get(option.kind, Kind.string)
    told: dict[str, Any] = {
        **_named(option.name, option.about, "option"),
        "type": kind.value,
        "required": option.required,
    }
    if option.kind in MEANT:
        told["autocomplete"] = True
    if option.kind == "choice":
        told["choices"] = [
            {
                "name": choice,
                "value": choice,
                **_localised("name", lambda language, said=choice: say(said, language)),
            }
            for choice in option.choices
        ]
    if option.kind == "channel":
        told["channel_types"] = list(TEXT_CHANNELS)
    bounds = ("min_value", "max_value") if kind is Kind.integer else ("min_length", "max_length")
    if kind in (Kind.integer, Kind.string) and option.kind in ("whole", "text"):
        told |= {
            name: bound
            for name, bound in zip(bounds, (option.least, option.most), strict=True)
            if bound is not None
        }
    return told


def _named(name: str, about: str, kind: str) -> dict[str, Any]:
    return {
        "name": name,
        "description": about[:LONGEST_ABOUT],
        **_localised("name", lambda language: name_of(name, kind, language)),
        **_localised("description", lambda language: say(about, language)[:LONGEST_ABOUT]),
    }


def _localised(what: str, of: Any) -> dict[str, dict[str, str]]:
    found = {
        locale: of(language) for language in languages() for locale in LOCALES.get(language, (language,))
    }
    return {f"{what}_localizations": found} if found else {}


async def make_known(client: discord.Client, book: Book, folder: Path) -> bool:
    """Tell the platform which commands there are, if that has changed since; whether it had."""
    payload, path = tree(book), folder / KNOWN_FILE
    digest = hashlib.sha256(msgspec.json.encode(payload, order="deterministic")).hexdigest()
    known = _known(path)
    application = str(client.application_id)
    if known.get(application) == digest:
        return False
    await client.http.bulk_upsert_global_commands(client.application_id or 0, payload)
    _remember(path, {**known, application: digest})
    log.info("commands made known", extra={"count": len(payload)})
    return True


def _remember(path: Path, known: dict[str, str]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    written = path.with_suffix(".new")
    written.write_bytes(msgspec.json.encode(known))
    written.replace(path)


def _known(path: Path) -> dict[str, str]:
    try:
        return msgspec.json.decode(path.read_bytes(), type=dict[str, str])
    except (OSError, msgspec.DecodeError):
        return {}
