"""Asks about licks."""

from bot.api.client import GroupClient, asked
from schemas.instruments import InstrumentList
from schemas.judgements import TwinList, VersionList
from schemas.licks import LickIn, LickList, LickOut, LickProposalOut, ReviewIn
from schemas.reports import ReportIn, ReportOut


async def one_lick(here: GroupClient, lick: int) -> LickOut:
    return await here.get(f"/licks/{lick}", LickOut)


async def licks(
    here: GroupClient,
    *,
    words: str | None = None,
    style: str | None = None,
    level: int | None = None,
    role: str | None = None,
    instrument: str | None = None,
    state: str | None = None,
    limit: int = 25,
) -> LickList:
    """By number; all but retired ones without a state."""
    query = {
        "q": words or None, "style": style, "max_level": level, "role": role, "instrument": instrument,
        "status": state, "limit": limit,
    }  # fmt: skip
    return await here.get("/licks", LickList, query)


async def read(here: GroupClient, data: bytes, instrument: str | None) -> LickProposalOut:
    """The lick in a file, for an instrument; the group's own without one."""
    path = "/licks/files" + asked({"instrument": instrument})
    return await here.upload("POST", path, data, "application/octet-stream", LickProposalOut)


async def send(here: GroupClient, lick: LickIn) -> LickOut:
    return await here.post("/licks", LickOut, lick)


async def change(here: GroupClient, number: int, revision: int, lick: LickIn) -> LickOut:
    """A new revision, if ``revision`` is still the newest."""
    return await here.put(f"/licks/{number}", LickOut, lick, f'"{revision}"')


async def retire(here: GroupClient, number: int) -> None:
    await here.delete(f"/licks/{number}", "*")


async def review(here: GroupClient, number: int, wish: ReviewIn) -> LickOut:
    return await here.post(f"/licks/{number}/review", LickOut, wish, "*")


async def easier(here: GroupClient, number: int) -> VersionList:
    """Simpler versions, hardest first."""
    return await here.get(f"/licks/{number}/easier", VersionList)


async def twins(here: GroupClient, number: int) -> TwinList:
    return await here.get(f"/licks/{number}/twins", TwinList)


async def report(here: GroupClient, number: int, what: ReportIn) -> ReportOut:
    return await here.post(f"/licks/{number}/reports", ReportOut, what)


async def instruments(here: GroupClient) -> InstrumentList:
    return await here.client.ask("GET", "/v1/instruments", InstrumentList, None, here.acting)
