"""Asks about tunes."""

from bot.api.client import GroupClient, in_path
from schemas.judgements import CandidateList
from schemas.tunes import PhraseInHandOut, TuneBody, TuneIn, TuneList, TuneOut, TuneProposals

MOST = 200  # on a page


async def tunes(here: GroupClient, words: str | None = None, limit: int = MOST) -> TuneList:
    return await here.get("/tunes", TuneList, {"q": words or None, "limit": limit})


async def one_tune(here: GroupClient, tune: str) -> TuneOut:
    return await here.get(f"/tunes/{in_path(tune)}", TuneOut)


async def add(here: GroupClient, tune: TuneIn) -> TuneOut:
    return await here.post("/tunes", TuneOut, tune)


async def read(here: GroupClient, data: bytes) -> TuneProposals:
    """The tunes in a file."""
    return await here.upload("POST", "/tunes/files", data, "application/octet-stream", TuneProposals)


async def change(here: GroupClient, tune: str, revision: int, body: TuneBody) -> TuneOut:
    return await here.put(f"/tunes/{in_path(tune)}", TuneOut, body, f'"{revision}"')


async def phrase_in_hand(
    here: GroupClient, tune: str, phrase: int, instrument: str | None
) -> PhraseInHandOut:
    """A phrase's key and chords as an instrument plays it; the group's own without one."""
    path = f"/tunes/{in_path(tune)}/phrases/{phrase}"
    return await here.get(path, PhraseInHandOut, {"instrument": instrument})


async def candidates(
    here: GroupClient, tune: str, phrase: int, instrument: str | None, limit: int
) -> CandidateList:
    """Licks for a phrase, best first."""
    path = f"/tunes/{in_path(tune)}/phrases/{phrase}/licks"
    return await here.get(path, CandidateList, {"instrument": instrument, "limit": limit})
