"""Who asks, and from where: newcomers, direct messages, somebody in two groups, a server that comes and goes."""

from collections.abc import Iterator

import pytest

from tests.chat.corner import GROUP, Corner, running_corner
from tests.chat_platform.faults import Fault
from tests.chat_platform.people import Upload
from tests.chat_platform.wire import Channel, Person


@pytest.fixture(scope="module")
def corner(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Corner]:
    with running_corner(tmp_path_factory.mktemp("corner"), servers=2) as running:
        yield running


def _in(corner: Corner, where: Channel, command: str, who: Person, **options: object) -> str:
    return corner.platform.run(command, who, where, options).wait(90).message.content


def test_a_newcomer_joins_by_one_press_and_gets_what_they_asked_for(corner: Corner) -> None:
    newcomer = corner.platform.person("Quill", corner.platform.servers[0])
    asked = corner.ask("tune list", newcomer)
    assert [message.ephemeral for message in asked.messages] == [True]
    assert "One press and you are in, as Quill" in asked.message.content
    joined = corner.press(asked.message, "Join", newcomer)
    assert "3 tunes" in joined.message.content
    assert "3 tunes" in corner.ask("tune list", newcomer).message.content


def test_on_a_server_without_a_group_whoever_manages_it_begins_one(corner: Corner) -> None:
    other = corner.platform.servers[1].channels[0]
    assert "This server has no group yet" in _in(corner, other, "tune list", corner.wren)
    asked = corner.platform.run("tune list", corner.kit, other).wait(90)
    begun = corner.press(asked.message, "Make our group", corner.kit)
    assert begun.message.ephemeral
    assert corner.platform.servers[1].name in begun.message.content
    assert _in(corner, other, "tune list", corner.kit) == (
        "**The group has no tunes yet. An organiser adds them.**"
    )


def test_in_direct_messages_the_only_group_is_meant(corner: Corner) -> None:
    assert "3 tunes" in _in(corner, corner.platform.dm(corner.wren), "tune list", corner.wren)


def test_in_direct_messages_a_stranger_is_told_where_to_begin(corner: Corner) -> None:
    said = _in(corner, corner.platform.dm(corner.stranger), "tune list", corner.stranger)
    assert said == "**I know you from no group yet. Join on your group's server first: group join.**"


def test_whoever_is_in_two_groups_is_asked_which_is_meant(corner: Corner) -> None:
    direct = corner.platform.dm(corner.kit)
    asked = corner.platform.run("tune list", corner.kit, direct).wait(90)
    assert asked.message.content == "**Which group is it about?**"
    menu = asked.message.items[0]
    assert [option["label"] for option in menu["options"]][:1] == ["Ferry Lane Jam"]
    chosen = corner.platform.select(
        asked.message, menu["custom_id"], [menu["options"][0]["value"]], corner.kit
    ).wait(90)
    assert "3 tunes" in chosen.message.content
    # buttons go on about that group, whatever was meant since
    assert all("@ferry-lane" in value["value"] for value in chosen.message.items[0]["options"])


def test_what_was_about_a_group_that_somebody_left_is_done_in_no_other(corner: Corner) -> None:
    one, other = corner.platform.servers
    mover = corner.platform.person("Teal", one, other)
    for server in (one, other):
        asked = corner.platform.run("tune list", mover, server.channels[0]).wait(90)
        corner.press(asked.message, "Join", mover)
    direct = corner.platform.dm(mover)
    asked = corner.platform.run("tune list", mover, direct).wait(90)
    menu = asked.message.items[0]
    first = next(option["value"] for option in menu["options"] if option["label"] == "Ferry Lane Jam")
    leaving = corner.platform.run("group leave", mover, one.channels[0]).wait(90)
    corner.press(leaving.message, "Leave", mover)
    said = corner.platform.select(asked.message, menu["custom_id"], [first], mover).wait(90)
    assert said.message.content == "**That is about a group you do not belong to. Type what you want anew.**"


def test_what_members_wrote_pings_nobody_and_stays_plain_text(corner: Corner) -> None:
    name = "@everyone <@1> **big** ``` [x](http://a.example)"
    corner.service.organiser.post(
        f"{GROUP}/challenges", json={"tune": "heron-ferry", "phrase": 1, "note": name}
    )
    said = corner.ask("challenge now", corner.wren).message.content
    assert "@everyone" not in said
    assert r"\*\*big\*\*" in said
    assert corner.platform.pings == []


@pytest.mark.parametrize(
    ("upload", "said"),
    [
        (Upload("notes.txt", b"1|--", "text/plain"), "sound"),
        (Upload("long.mp3", bytes(9 << 20), "audio/mpeg"), "9.0 MiB, and 8 is the most"),
    ],
    ids=["a text", "more than 8 MiB"],
)
def test_files_that_are_no_use_are_refused_before_they_are_fetched(
    corner: Corner, upload: Upload, said: str
) -> None:
    corner.platform.faults.next("GET", "/attachments/*/*", Fault(status=500))
    asked = corner.ask("variation record", corner.wren, file=upload)
    assert asked.message.ephemeral
    assert said in asked.message.content
    corner.platform.faults.clear()


def test_nothing_is_lost_when_the_bot_is_removed_and_added_again(corner: Corner) -> None:
    server = corner.platform.servers[0]
    corner.platform.remove_bot(server)
    corner.platform.add_bot(server)
    corner.quiet()
    assert "3 tunes" in corner.ask("tune list", corner.wren).message.content


def test_names_are_completed_while_they_are_typed(corner: Corner) -> None:
    asked = corner.platform.type_ahead("break random", "tune", "mil", corner.wren, corner.room).wait(90)
    assert asked.choices == [{"name": "Miller's Mitten", "value": "millers-mitten"}]
