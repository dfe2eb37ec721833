"""Asks about practice and lessons."""

from collections.abc import Sequence

from bot.api.client import GroupClient
from schemas.practice import (
    DueList,
    LessonIn,
    LessonList,
    LessonOut,
    LessonPatch,
    LoggedOut,
    LogIn,
    PracticeChoicesIn,
    PracticeChoicesOut,
    ProgressOut,
)


async def log(here: GroupClient, done: LogIn) -> LoggedOut:
    return await here.post("/practice-logs", LoggedOut, done)


async def progress(here: GroupClient, query: dict[str, str | int | None]) -> ProgressOut:
    """``query``: perhaps a ``member``, and a ``lick``, or a ``break`` and ``phrase``."""
    return await here.get("/practice-logs/progress", ProgressOut, query)


async def due(here: GroupClient) -> DueList:
    return await here.get("/practice-logs/due", DueList)


async def choices(here: GroupClient, member: int) -> PracticeChoicesOut:
    return await here.get(f"/members/{member}/practice", PracticeChoicesOut)


async def choose(here: GroupClient, member: int, chosen: PracticeChoicesIn) -> PracticeChoicesOut:
    return await here.put(f"/members/{member}/practice", PracticeChoicesOut, chosen)


async def set_lesson(here: GroupClient, lesson: LessonIn) -> LessonOut:
    return await here.post("/lessons", LessonOut, lesson)


async def lessons(here: GroupClient, member: int | None) -> Sequence[LessonOut]:
    """Those that whoever asks may see, in the order they were set."""
    return (await here.get("/lessons", LessonList, {"member": member, "limit": 200})).items


async def change_lesson(here: GroupClient, number: int, change: LessonPatch) -> LessonOut:
    return await here.patch(f"/lessons/{number}", LessonOut, change)
