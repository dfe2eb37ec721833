"""What a list of commands may be, and to whom one is offered."""

from typing import Any

import httpx
import pytest

from tests.chat_platform.commands import LOCALES, CannotBeAsked
from tests.chat_platform.refused.plain import NAME, Json
from tests.chat_platform.stand_in import Platform


def option(name: str = "option", kind: int = 3, **more: Any) -> Json:
    return {"type": kind, "name": name, "description": "x"} | more


def choices(count: int, **more: Any) -> list[Json]:
    return [{"name": str(number), "value": str(number)} | more for number in range(count)]


LONG = [
    option(f"o{number}", choices=[{"name": f"{n}" * 50, "value": "v" * 100} for n in range(10)])
    for number in range(6)
]
COMMANDS: dict[str, tuple[bool, Json]] = {
    "a name of 32": (True, {"name": "x" * 32}),
    "a name of 33": (False, {"name": "x" * 33}),
    "a name in another script": (True, {"name": "बैंजो"}),
    "a name with signs": (True, {"name": "lick-of_o'brien"}),
    "a name with a blank": (False, {"name": "find lick"}),
    "a capital": (False, {"name": "Find"}),
    "a capital beyond ASCII": (False, {"name": "Überblick"}),
    "a description of 100": (True, {"description": "x" * 100}),
    "a description of 101": (False, {"description": "x" * 101}),
    "no description": (False, {"description": ""}),
    "25 options": (True, {"options": [option(f"o{n}") for n in range(25)]}),
    "26 options": (False, {"options": [option(f"o{n}") for n in range(26)]}),
    "an option twice": (False, {"options": [option(), option()]}),
    "25 choices": (True, {"options": [option(choices=choices(25))]}),
    "26 choices": (False, {"options": [option(choices=choices(26))]}),
    "a choice's name of 101": (False, {"options": [option(choices=choices(1, name="x" * 101))]}),
    "a choice's value of 101": (False, {"options": [option(choices=choices(1, value="x" * 101))]}),
    "a choice of another type": (False, {"options": [option(kind=4, choices=choices(1))]}),
    "choices and proposals": (False, {"options": [option(choices=choices(1), autocomplete=True)]}),
    "choices of a person": (False, {"options": [option(kind=6, choices=choices(1))]}),
    "a least length of a number": (False, {"options": [option(kind=4, min_length=1)]}),
    "a least value of a text": (False, {"options": [option(min_value=1)]}),
    "required first": (True, {"options": [option("a", required=True), option("b")]}),
    "required last": (False, {"options": [option("a"), option("b", required=True)]}),
    "a subcommand": (True, {"options": [option("sub", 1, options=[option()])]}),
    "a group": (True, {"options": [option("group", 2, options=[option("sub", 1, options=[option()])])]}),
    "an empty group": (False, {"options": [option("group", 2, options=[])]}),
    "a group in a group": (False, {"options": [option("g", 2, options=[option("h", 2, options=[])])]}),
    "a subcommand in a subcommand": (False, {"options": [option("s", 1, options=[option("t", 1)])]}),
    "a parameter in a group": (False, {"options": [option("g", 2, options=[option()])]}),
    "a parameter beside a subcommand": (False, {"options": [option("s", 1), option()]}),
    "an unknown type": (False, {"options": [option(kind=12)]}),
    "a translation": (
        True,
        {"name_localizations": {"de": "finde"}, "description_localizations": {"de": "x"}},
    ),
    "an unknown language": (False, {"name_localizations": {"de-DE": "finde"}}),
    "a translated capital": (False, {"name_localizations": {"de": "Finde"}}),
    "a translated description of 101": (False, {"description_localizations": {"de": "x" * 101}}),
    "a translated choice of 101": (
        False,
        {"options": [option(choices=choices(1, name_localizations={"de": "x" * 101}))]},
    ),
    "two options of one name in a language": (
        False,
        {
            "options": [
                option("a", name_localizations={"de": "x"}),
                option("b", name_localizations={"de": "x"}),
            ]
        },
    ),
    "a translation that is another's name": (
        False,
        {"options": [option("a", name_localizations={"de": "b"}), option("b")]},
    ),
    "8,000 characters and more": (False, {"options": LONG}),
    "less than 8,000": (True, {"options": LONG[:5]}),
    "rights that are a number": (True, {"default_member_permissions": "32"}),
    "rights that are none": (False, {"default_member_permissions": "manage"}),
    "no place to be used": (False, {"contexts": []}),
}


@pytest.mark.parametrize(("right", "data"), COMMANDS.values(), ids=COMMANDS)
def test_a_command_is_held_to_its_limits(
    platform: Platform, http: httpx.Client, right: bool, data: Json
) -> None:
    response = http.put(f"/applications/{platform.bot.id}/commands", json=[NAME | data])
    assert response.status_code == (200 if right else 400), response.text
    assert len(platform.violations) == (not right)


def test_commands_are_at_most_100_with_names_of_their_own(platform: Platform, http: httpx.Client) -> None:
    path = f"/applications/{platform.bot.id}/commands"
    many = [NAME | {"name": f"c{number}"} for number in range(101)]
    assert http.put(path, json=many[:100]).status_code == 200
    assert http.put(path, json=many).status_code == 400
    assert http.put(path, json=[NAME, NAME]).status_code == 400
    entries = [{"name": f"Entry {number}", "type": 3} for number in range(16)]
    assert http.put(path, json=entries[:15]).status_code == 200
    assert http.put(path, json=entries).status_code == 400


def test_commands_keep_their_ids_and_tell_translations_when_asked(
    platform: Platform, http: httpx.Client
) -> None:
    path = f"/applications/{platform.bot.id}/commands"
    translated = NAME | {"name_localizations": {"de": "finde"}}
    first = http.put(path, json=[translated]).json()
    second = http.put(path, json=[translated, NAME | {"name": "other"}]).json()
    assert first[0]["id"] == second[0]["id"]
    assert "name_localizations" not in http.get(path).json()[0]
    assert http.get(f"{path}?with_localizations=true").json()[0]["name_localizations"] == {"de": "finde"}
    own = f"/applications/{platform.bot.id}/guilds/{platform.servers[0].id}/commands"
    assert http.get(own).json() == []
    assert http.put(own, json=[NAME]).json()[0]["guild_id"] == str(platform.servers[0].id)
    assert http.put(own, json=[]).json() == []


@pytest.mark.parametrize(
    ("limits", "member", "organiser", "direct"),
    [
        ({}, True, True, True),
        ({"contexts": [0]}, True, True, False),
        ({"contexts": [1]}, False, False, True),
        ({"dm_permission": False}, True, True, False),
        ({"default_member_permissions": "32"}, False, True, True),
        ({"default_member_permissions": "0"}, False, False, True),
    ],
)
def test_a_command_is_offered_where_and_to_whom_it_is_meant(
    platform: Platform, http: httpx.Client, limits: Json, member: bool, organiser: bool, direct: bool
) -> None:
    helper = platform.person("Teal")
    platform.join(helper, platform.servers[0], organiser=True)
    http.put(f"/applications/{platform.bot.id}/commands", json=[NAME | limits])
    offered = []
    for person, where in (
        (platform.member, platform.rooms[0]),
        (helper, platform.rooms[0]),
        (platform.member, platform.dm(platform.member)),
    ):
        try:
            platform.run("find", person, where)
            offered.append(True)
        except CannotBeAsked:
            offered.append(False)
    assert offered == [member, organiser, direct]


def test_the_platform_speaks_32_languages() -> None:
    assert len(LOCALES) == 32
