"""Evenings and known tunes through the bot."""

from bot.replies import Form, Reply
from tests.bot.asking import Asking, labels


def _planned(asking: Asking, **more: str) -> Reply:
    given = {"day": "2026-12-04", "title": "Friday", "tunes": "Heron Ferry in A, Miller's Mitten", **more}
    return asking.answer("kit", "evening plan", **given)


def test_an_evening_is_planned_with_tunes_by_their_names(asking: Asking) -> None:
    reply = _planned(asking)
    assert reply.head == "2026-12-04 · Friday"
    assert reply.notes == ("Heron Ferry in A", "Miller's Mitten in A")
    assert asking.answer("otter", "evening list").notes == ("2026-12-04 Friday: 2 tunes",)


def test_what_is_no_day_or_no_tune_is_said_with_what_to_write(asking: Asking) -> None:
    assert "write it as 2026-12-31" in _planned(asking, day="Friday").head
    assert _planned(asking, tunes="Heron Ferry, Nowhere Reel").failed
    assert asking.answer("otter", "evening plan", day="2026-12-04", title="Mine").failed


def test_breaks_are_shared_out_among_those_named(asking: Asking) -> None:
    for who in ("kit", "otter"):
        asking.answer(who, "tune know", tune="heron-ferry")
    shown = _planned(asking)
    form = asking.press("kit", shown, "Share the breaks")
    assert isinstance(form, Form)
    shared = asking.fill("kit", form, players="Kit banjo,\notter Guitar, wren 2 fiddle learning")
    assert shared.notes[0].startswith("Tunes without a name behind them: nobody you named knows them,")
    assert shared.notes[2] == "Miller's Mitten in A"
    assert "Kit (banjo)" in shared.notes[1]
    assert "Otter (guitar)" in shared.notes[1]
    asking.answer("kit", "tune know", tune="millers-mitten")
    shared = asking.answer("kit", "evening share", evening=1, players="Kit banjo, Otter guitar")
    assert shared.notes[0] == "The breaks are shared out."
    assert "Share the breaks" not in labels(asking.answer("otter", "evening show", evening=1))


def test_who_or_what_is_not_known_is_named(asking: Asking) -> None:
    _planned(asking)
    assert "“Nobody”" in asking.answer("kit", "evening share", evening=1, players="Nobody banjo").head
    assert "“Kit kazoo”" in asking.answer("kit", "evening share", evening=1, players="Kit kazoo").head


def test_a_tune_is_marked_as_played_on_its_evening_or_by_itself(asking: Asking) -> None:
    reply = asking.pressed("otter", _planned(asking, day="2026-01-09"), "Heron Ferry")
    assert reply.notes == ("Heron Ferry in A ✓", "Miller's Mitten in A")
    assert [choice.label for choice in reply.menus[0].choices] == ["Miller's Mitten"]
    noted = asking.answer("otter", "evening played", tune="Thimble Creek", day="2026-01-02")
    assert noted.head == "Noted: Thimble Creek was played on 2026-01-02."


def test_who_knows_a_tune_is_learning_it_and_sings_it_is_told(asking: Asking) -> None:
    mine = asking.answer("otter", "tune know", tune="heron-ferry", keys="g, A")
    assert (mine.head, mine.private) == ("You know Heron Ferry.", True)
    assert mine.notes[0] == "You sing it in G, A."
    asking.answer("kit", "tune learn", tune="heron-ferry")
    asking.answer("kit", "tune park", tune="thimble-creek")
    known = asking.answer("wren", "tune known").notes
    assert known == ("Heron Ferry (G): Otter; learning: Kit; sung in G by Otter; sung in A by Otter",)
    assert asking.answer("wren", "tune known", key="D").notes == ()


def test_tunes_that_were_long_not_played_are_due(asking: Asking) -> None:
    asking.answer("otter", "evening played", tune="heron-ferry", day="2020-01-02")
    asking.answer("otter", "tune know", tune="heron-ferry")
    assert any(note == "Heron Ferry: 2020-01-02" for note in asking.answer("otter", "tune due").notes)
