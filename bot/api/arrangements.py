"""Asks about arrangements of a tune."""

from bot.api.client import GroupClient, asked, in_path
from schemas.arrangements import ArrangeIn, ArrangementOut, ProposedSettings
from schemas.breaks import BreakOut


async def arrange(here: GroupClient, tune: str, wish: ArrangeIn) -> ArrangementOut:
    return await here.post(f"/tunes/{in_path(tune)}/arrangements", ArrangementOut, wish)


async def positions(here: GroupClient, tune: str, instrument: str | None) -> ProposedSettings:
    return await here.get(f"/tunes/{in_path(tune)}/positions", ProposedSettings, {"instrument": instrument})


async def plain_break(here: GroupClient, tune: str, instrument: str | None) -> BreakOut:
    return await here.post(
        f"/tunes/{in_path(tune)}/breaks/plain{asked({'instrument': instrument})}", BreakOut
    )
