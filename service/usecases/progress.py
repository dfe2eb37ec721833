"""How practice goes, in numbers: clean tempos, days played, minutes. No chains of days: whoever rests loses nothing."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from service.errors import NotFound
from service.groups.work_ups import days_played
from service.store import practice as rows
from service.store.practice import LogRow
from service.usecases.group_settings import local_day, settings_of
from service.usecases.house import House
from service.usecases.identify import Caller, member_of, reach_group
from service.usecases.people import find_member
from service.usecases.pieces import Piece, read_piece

WEEKS_SEEN = 12  # of which minutes are told; ours


@dataclass(frozen=True, slots=True)
class PieceProgress:
    """``clean`` holds the days and tempos of clean passes in order of time, in beats of ``unit`` a minute."""

    piece: Piece
    unit: str
    days: int
    clean: tuple[tuple[date, int], ...]

    @property
    def rises(self) -> tuple[tuple[date, int], ...]:
        """The best clean tempo so far, at each day on which it rose."""
        found: list[tuple[date, int]] = []
        for day, bpm in self.clean:
            if not found or bpm > found[-1][1]:
                if found and found[-1][0] == day:
                    found.pop()
                found.append((day, bpm))
        return tuple(found)


@dataclass(frozen=True, slots=True)
class Progress:
    """``days`` played of the last ``DAYS_LOOKED_AT``; ``weeks`` are Mondays with the minutes logged in the week that begins there;
    ``today`` the minutes of today."""

    group_id: int
    member: int
    pieces: tuple[PieceProgress, ...]
    days: int
    weeks: tuple[tuple[date, int], ...]
    today: int


async def progress_of(
    house: House, caller: Caller, group_slug: str, member: int | None, piece: Piece | None
) -> Progress:
    """One's own, or that of a member who shares it; of everything, or of one piece.

    Raises NotFound where somebody does not share, as where there is nobody.
    """
    group = reach_group(house, caller, group_slug, "see-ones-own")
    member_id, number = member_of(caller), caller.member_number or 0
    if member is not None and member != number:
        points = house.database.points
        other = find_member(points, group.id, member)
        if not rows.choices(points, other.id).shared:
            raise NotFound("not-found", what="member's practice")
        member_id, number = other.id, other.number
    logs = await rows.every_log(house.database.slow, member_id, None if piece is None else piece.told)
    today = local_day(settings_of(group), house.clock())
    days = [date.fromisoformat(log.day) for log in logs]
    return Progress(
        group.id,
        number,
        _pieces(logs),
        days_played(days, today),
        _weeks(logs, today),
        sum(log.minutes or 0 for log in logs if log.day == today.isoformat()),
    )


def _pieces(logs: Sequence[LogRow]) -> tuple[PieceProgress, ...]:
    of: dict[tuple[str, str], list[LogRow]] = {}
    for log in logs:
        of.setdefault((log.piece, log.unit), []).append(log)
    return tuple(
        PieceProgress(
            read_piece(told),
            unit,
            len({log.day for log in own}),
            tuple((date.fromisoformat(log.day), log.bpm) for log in own if log.clean),
        )
        for (told, unit), own in of.items()
    )


def _weeks(logs: Sequence[LogRow], today: date) -> tuple[tuple[date, int], ...]:
    this = today - timedelta(today.weekday())
    minutes = {this - timedelta(7 * back): 0 for back in reversed(range(WEEKS_SEEN))}
    for log in logs:
        day = date.fromisoformat(log.day)
        week = day - timedelta(day.weekday())
        if week in minutes:
            minutes[week] += log.minutes or 0
    return tuple(minutes.items())
