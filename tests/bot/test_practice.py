"""Practice and lessons through the bot: all of it for the asker alone."""

from bot.replies import Reply
from tests.bot.asking import Asking, labels


def _log(asking: Asking, who: str = "otter", **more: object) -> Reply:
    return asking.answer(who, "practice log", **{"lick": 1, "tempo": 60, "clean": "yes", **more})


def test_what_was_practised_is_noted_and_the_next_tempo_told(asking: Asking) -> None:
    reply = _log(asking, passes=3)
    assert reply.private
    assert reply.head
    assert reply.notes == ("Noted: lick 1 at half = 60, clean.",)
    assert labels(reply) == ["Look at it", "Progress"]


def test_a_long_day_brings_a_caution_for_the_hands(asking: Asking) -> None:
    reply = _log(asking, minutes=50)
    assert len(reply.notes) == 2
    assert "50" in reply.notes[1]


def test_practice_needs_a_lick_or_a_break(asking: Asking) -> None:
    assert asking.answer("otter", "practice log", tempo=60, clean="yes").failed


def test_progress_of_one_piece_is_a_picture_with_its_description(asking: Asking) -> None:
    reply = asking.pressed("otter", _log(asking), "Progress")
    assert reply.files[0].data[:4] == b"\x89PNG"
    assert "60" in reply.files[0].description
    whole = asking.answer("otter", "practice progress")
    assert whole.files == ()
    assert whole.head.startswith("Played on 1 of the last 28 days.")
    assert whole.notes[0].startswith("lick 1: clean at half = 60 since ")


def test_others_see_how_it_goes_only_once_it_is_shared(asking: Asking) -> None:
    _log(asking)
    assert asking.answer("kit", "practice progress", member="Otter").failed
    shared = asking.pressed("otter", asking.answer("otter", "practice share"), "Show the group")
    assert shared.head == "The group may see how your practice goes."
    assert asking.answer("kit", "practice progress", member="otter").notes
    asking.answer("otter", "practice share", on="no")
    assert asking.answer("kit", "practice progress", member="Otter").failed


def test_reminders_are_chosen_without_touching_what_is_shared(asking: Asking) -> None:
    asking.answer("otter", "practice share", on="yes")
    on = asking.answer("otter", "practice reminders", on="yes")
    assert on.head == "Reminders are on: what you played by heart comes up again."
    assert on.notes == ("The group may see how your practice goes.",)
    _log(asking, from_memory="yes")
    assert asking.answer("otter", "practice due").head == "Nothing comes up today. Rest is part of practice."


def test_what_comes_up_again_is_listed_and_opened(asking: Asking) -> None:
    asking.answer("otter", "practice reminders", on="yes")
    _log(asking, from_memory="yes")
    asking.service.call(lambda: _due_now(asking))
    reply = asking.answer("otter", "practice due")
    assert reply.notes[0].startswith("lick 1 (2020-01-01)")
    assert reply.notes[-1] == "Stop when it is enough, or if anything hurts."
    assert not asking.pressed("otter", reply, "lick 1").failed


async def _due_now(asking: Asking) -> None:
    await asking.service.house.database.write(
        lambda connection: connection.execute("UPDATE reminders SET due = '2020-01-01'")
    )


def test_a_lesson_is_between_teacher_and_member_and_done_by_the_member(asking: Asking) -> None:
    made = asking.answer("kit", "lesson set", member="Otter", day="2026-12-31", lick=2, comment="Slowly.")
    assert (made.head, made.private) == ("Lesson 1 for Otter: lick 2, until 2026-12-31.", True)
    assert asking.answer("wren", "lesson list").head == "No lesson is waiting."
    mine = asking.answer("otter", "lesson list")
    assert mine.notes == ("1: lick 2, until 2026-12-31: Slowly.",)
    assert asking.answer("kit", "lesson done", lesson=1).failed
    assert asking.pressed("otter", mine, "1: lick 2").head == "Lesson 1 is done: lick 2."
    assert asking.answer("otter", "lesson list").head == "No lesson is waiting."


def test_members_set_lessons_for_themselves_alone(asking: Asking) -> None:
    assert asking.answer("otter", "lesson set", member="Kit", day="2026-12-31", lick=2).failed
    assert not asking.answer("otter", "lesson set", member="Otter", day="2026-12-31", lick=2).failed
