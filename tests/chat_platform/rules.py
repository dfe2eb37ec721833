"""What a message, its buttons and menus, a form and proposals may be. Limits: API reference and Component Reference."""

from dataclasses import dataclass
from typing import Any

from tests.chat_platform.mentions import check_allowed
from tests.chat_platform.refusals import Refused, count, form, length
from tests.chat_platform.wire import EPHEMERAL, Json

CONTENT, NONCE, ALT_TEXT, CUSTOM_ID, LABEL = 2000, 25, 1024, 100, 80
EMBEDS, EMBED_TOTAL, FILES, ROWS, BUTTONS_IN_ROW, CHOICES = 10, 6000, 10, 5, 5, 25
FORM_TITLE, FORM_PARTS, FIELD_LABEL, FIELD_HINT, FIELD_TEXT = 45, 5, 45, 100, 4000
SELECTS = (3, 5, 6, 7, 8)
FIELDS_IN_LABELS = (3, 4, 5, 6, 7, 8, 19, 21, 22, 23)
SUPPRESS_EMBEDS, QUIET, COMPONENTS_V2 = 1 << 2, 1 << 12, 1 << 15

_EMBED_TEXTS = {"title": 256, "description": 4096}
_EMBED_PARTS = {("footer", "text"): 2048, ("author", "name"): 256}


@dataclass(frozen=True)
class File:
    """A file as it came: the number in ``files[n]``, its name and bytes."""

    number: int
    name: str
    data: bytes


def check_message(
    data: Json, files: list[File], *, size_limit: int, flags: int, kept: frozenset[int]
) -> None:
    """Refuses what no message may have. ``flags``: which may be set. ``kept``: ids of files it has already.

    Whether it is empty is seen by ``check_not_empty``, since an edit may leave things as they are.
    """
    if data.get("content") is not None:
        length("content", data["content"], 0, CONTENT)
    nonce = data.get("nonce")
    if nonce is not None and not isinstance(nonce, int):
        length("nonce", nonce, 0, NONCE)
    unknown = (data.get("flags") or 0) & ~flags
    if unknown & COMPONENTS_V2:
        raise form("flags", "The stand-in knows rows of buttons and menus alone.")
    if unknown:
        raise form("flags", f"These flags cannot be set here: {unknown}.")
    check_allowed(data.get("allowed_mentions"))
    _check_embeds(data.get("embeds") or [])
    check_rows(data.get("components") or [])
    _check_files(data, files, size_limit, kept)


def check_not_empty(content: str, *others: object) -> None:
    if not content.strip() and not any(others):
        raise Refused(50006)


def _check_embeds(embeds: Any) -> None:
    total = 0
    for place, embed in enumerate(count("embeds", embeds, 0, EMBEDS)):
        where = f"embeds.{place}"
        for name, most in _EMBED_TEXTS.items():
            if embed.get(name) is not None:
                total += len(length(f"{where}.{name}", embed[name], 0, most))
        for (part, name), most in _EMBED_PARTS.items():
            if embed.get(part) is not None:
                total += len(length(f"{where}.{part}.{name}", embed[part].get(name, ""), 0, most))
        colour = embed.get("color")
        if colour is not None and not (isinstance(colour, int) and 0 <= colour <= 0xFFFFFF):
            raise form(f"{where}.color", "Must be 0 to 16777215.")
        if embed.get("url") is not None:
            _check_link(f"{where}.url", embed["url"], 2048)
        for part in ("image", "thumbnail"):
            if embed.get(part):
                _check_link(f"{where}.{part}.url", embed[part].get("url"), 2048, "attachment")
        for number, field in enumerate(count(f"{where}.fields", embed.get("fields") or [], 0, 25)):
            total += len(length(f"{where}.fields.{number}.name", field.get("name"), 1, 256))
            total += len(length(f"{where}.fields.{number}.value", field.get("value"), 1, 1024))
    if total > EMBED_TOTAL:
        raise form("embeds", f"Embed size exceeds maximum size of {EMBED_TOTAL}, is {total}.")


def _check_link(where: str, value: object, most: int, *schemes: str) -> None:
    link = length(where, value, 1, most)
    if link.partition("://")[0] not in ("http", "https", *schemes):
        raise form(where, "Scheme must be one of ('http', 'https').")


def _check_emoji(where: str, emoji: Json) -> None:
    """A picture of the server's own has an id; any other is a sign, not a name like ``banjo``."""
    if not emoji.get("id") and str(emoji.get("name") or "").isascii():
        raise form(where, "Invalid emoji.")


def _check_files(data: Json, files: list[File], size_limit: int, kept: frozenset[int]) -> None:
    described = count("attachments", data.get("attachments") or [], 0, FILES)
    count("files", files, 0, FILES)
    numbers = [file.number for file in files]
    if len(set(numbers)) < len(numbers):
        raise form("files", "Each file needs a number of its own.")
    ids = [int(one["id"]) for one in described if "id" in one]
    for place, one in enumerate(described):
        if "id" not in one:
            raise form(f"attachments.{place}.id", "This field is required.")
        if int(one["id"]) not in kept and int(one["id"]) not in numbers:
            raise form(f"attachments.{place}.id", "There is no such file.")
        if one.get("description") is not None:
            length(f"attachments.{place}.description", one["description"], 0, ALT_TEXT)
    if len(set(ids) & kept) + len(files) > FILES:
        raise form("attachments", f"Must be {FILES} or fewer in length.")
    for file in files:
        if not file.name:
            raise form(f"files.{file.number}", "A file needs a name.")
        if len(file.data) > size_limit:
            raise Refused(40005)


# --- buttons and menus ---------------------------------------------------------------------------------


def check_rows(rows: Any) -> None:
    ids: list[str] = []
    for place, row in enumerate(count("components", rows, 0, ROWS)):
        where = f"components.{place}"
        if row.get("type") != 1:
            raise form(
                f"{where}.type", "Must be a row (1): nothing else goes without the newer components' flag."
            )
        items = count(f"{where}.components", row.get("components"), 1, BUTTONS_IN_ROW)
        kinds = {item.get("type") for item in items}
        if kinds & set(SELECTS) and len(items) > 1:
            raise form(f"{where}.components", "A menu fills its row.")
        for number, item in enumerate(items):
            here = f"{where}.components.{number}"
            if item.get("type") == 2:
                _check_button(here, item)
            elif item.get("type") in SELECTS:
                check_select(here, item)
            else:
                raise form(f"{here}.type", "Must be a button or a menu.")
            if "custom_id" in item:
                ids.append(item["custom_id"])
    twice = {one for one in ids if ids.count(one) > 1}
    if twice:
        raise form("components", f"Component custom id cannot be duplicated: {min(twice)}.")


def _check_button(where: str, button: Json) -> None:
    style = button.get("style")
    if style not in (1, 2, 3, 4, 5):
        raise form(f"{where}.style", "Must be 1 to 5.")
    if button.get("label") is not None:
        length(f"{where}.label", button["label"], 0, LABEL)
    if not button.get("label") and not button.get("emoji"):
        raise form(f"{where}.label", "A button needs a label or an emoji.")
    if button.get("emoji"):
        _check_emoji(f"{where}.emoji", button["emoji"])
    if style == 5:
        _check_link(f"{where}.url", button.get("url"), 512)
        if button.get("custom_id") is not None:
            raise form(f"{where}.custom_id", "A custom id and url cannot both be specified.")
    else:
        length(f"{where}.custom_id", button.get("custom_id"), 1, CUSTOM_ID)
        if button.get("url") is not None:
            raise form(f"{where}.url", "A custom id and url cannot both be specified.")


def check_select(where: str, menu: Json) -> None:
    """A menu of a message or of a form."""
    length(f"{where}.custom_id", menu.get("custom_id"), 1, CUSTOM_ID)
    if menu.get("placeholder") is not None:
        length(f"{where}.placeholder", menu["placeholder"], 0, 150)
    least, most = menu.get("min_values", 1), menu.get("max_values", 1)
    if not 0 <= least <= CHOICES:
        raise form(f"{where}.min_values", "Must be 0 to 25.")
    if not 1 <= most <= CHOICES or most < least:
        raise form(f"{where}.max_values", "Must be 1 to 25 and not less than min_values.")
    if menu["type"] != 3:
        return
    options = count(f"{where}.options", menu.get("options"), 1, CHOICES)
    for place, option in enumerate(options):
        here = f"{where}.options.{place}"
        length(f"{here}.label", option.get("label"), 1, 100)
        length(f"{here}.value", option.get("value"), 1, 100)
        if option.get("description") is not None:
            length(f"{here}.description", option["description"], 0, 100)
        if option.get("emoji"):
            _check_emoji(f"{here}.emoji", option["emoji"])
    values = [option["value"] for option in options]
    if len(set(values)) < len(values):
        raise form(f"{where}.options", "The specified option value is already used.")
    if most > len(options):
        raise form(f"{where}.max_values", "Must not be more than there are options.")
    if sum(bool(option.get("default")) for option in options) > most:
        raise form(f"{where}.options", "More options are chosen beforehand than may be chosen.")


# --- forms ---------------------------------------------------------------------------------------------


def check_form(data: Json) -> None:
    length("data.custom_id", data.get("custom_id"), 1, CUSTOM_ID)
    length("data.title", data.get("title"), 1, FORM_TITLE)
    ids = []
    for place, part in enumerate(count("data.components", data.get("components"), 1, FORM_PARTS)):
        where = f"data.components.{place}"
        if part.get("type") == 1:
            (field,) = count(f"{where}.components", part.get("components"), 1, 1)
            if field.get("type") != 4:
                raise form(f"{where}.components.0.type", "A row of a form holds a text input.")
            length(f"{where}.components.0.label", field.get("label"), 1, FIELD_LABEL)
            _check_field(f"{where}.components.0", field)
        elif part.get("type") == 18:
            length(f"{where}.label", part.get("label"), 1, FIELD_LABEL)
            if part.get("description") is not None:
                length(f"{where}.description", part["description"], 1, 100)
            field = part.get("component") or {}
            _check_field(f"{where}.component", field)
        elif part.get("type") == 10:
            length(f"{where}.content", part.get("content"), 1, 4000)
            continue
        else:
            raise form(f"{where}.type", "Must be a row, a label or a text.")
        ids.append(field["custom_id"])
    if len(set(ids)) < len(ids):
        raise form("data.components", "Component custom id cannot be duplicated.")


def _check_field(where: str, field: Json) -> None:
    if field.get("type") not in FIELDS_IN_LABELS:
        raise form(f"{where}.type", "Nothing that can be filled in.")
    if field.get("disabled"):
        raise form(f"{where}.disabled", "Nothing in a form can be disabled.")
    if field["type"] in SELECTS:
        check_select(where, field)
        return
    length(f"{where}.custom_id", field.get("custom_id"), 1, CUSTOM_ID)
    if field["type"] != 4:
        return
    if field.get("style") not in (1, 2):
        raise form(f"{where}.style", "Must be 1 or 2.")
    least, most = field.get("min_length") or 0, field.get("max_length") or FIELD_TEXT
    if not 0 <= least <= most <= FIELD_TEXT:
        raise form(f"{where}.max_length", f"Must be up to {FIELD_TEXT} and not less than min_length.")
    if field.get("value") is not None:
        length(f"{where}.value", field["value"], 0, most)
    if field.get("placeholder") is not None:
        length(f"{where}.placeholder", field["placeholder"], 0, FIELD_HINT)


# --- what is proposed while somebody types -------------------------------------------------------------


def check_proposals(choices: Any, option_type: int) -> None:
    """``option_type``: 3 for texts, 4 for whole numbers, 10 for numbers."""
    for place, choice in enumerate(count("data.choices", choices, 0, CHOICES)):
        check_choice(f"data.choices.{place}", choice, option_type)


def check_choice(where: str, choice: Json, option_type: int) -> None:
    length(f"{where}.name", choice.get("name"), 1, 100)
    value = choice.get("value")
    if option_type == 3:
        length(f"{where}.value", value, 0, 100)
    elif isinstance(value, bool) or not isinstance(value, int if option_type == 4 else (int, float)):
        raise form(f"{where}.value", "Must be a number.")


MESSAGE_FLAGS = SUPPRESS_EMBEDS | QUIET
ANSWER_FLAGS = SUPPRESS_EMBEDS | QUIET | EPHEMERAL
