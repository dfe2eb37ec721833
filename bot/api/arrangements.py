"""Asks about arrangements of a tune, and about licks proposed for its phrases."""

from bot.api.client import GroupClient, asked, in_path
from schemas.arrangements import ArrangeIn, ArrangementOut, KeepProposalIn, LickProposals, ProposedSettings
from schemas.breaks import BreakOut
from schemas.licks import LickOut


async def arrange(here: GroupClient, tune: str, wish: ArrangeIn) -> ArrangementOut:
    return await here.post(f"/tunes/{in_path(tune)}/arrangements", ArrangementOut, wish)


async def positions(here: GroupClient, tune: str, instrument: str | None) -> ProposedSettings:
    return await here.get(f"/tunes/{in_path(tune)}/positions", ProposedSettings, {"instrument": instrument})


async def plain_break(here: GroupClient, tune: str, instrument: str | None) -> BreakOut:
    return await here.post(
        f"/tunes/{in_path(tune)}/breaks/plain{asked({'instrument': instrument})}", BreakOut
    )


async def proposals(here: GroupClient, tune: str, phrase: int, instrument: str | None) -> LickProposals:
    return await here.get(_proposals(tune, phrase), LickProposals, {"instrument": instrument})


async def keep_proposal(
    here: GroupClient, tune: str, phrase: int, key: str, instrument: str | None
) -> LickOut:
    """The proposal as a lick of the pool."""
    path = f"{_proposals(tune, phrase)}{asked({'instrument': instrument})}"
    return await here.post(path, LickOut, KeepProposalIn(key=key))


def _proposals(tune: str, phrase: int) -> str:
    return f"/tunes/{in_path(tune)}/phrases/{phrase}/proposals"
