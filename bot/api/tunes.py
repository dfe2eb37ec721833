"""Asks about tunes."""

from bot.api.client import GroupClient, asked, in_path
from schemas.judgements import CandidateList
from schemas.tunes import PhraseInHandOut, TuneBody, TuneIn, TuneList, TuneOut, TuneProposals

MOST = 200  # on a page
MOST_ORDER = 200  # characters that an order may have beside the chart


async def tunes(here: GroupClient, words: str | None = None, limit: int = MOST) -> TuneList:
    return await here.get("/tunes", TuneList, {"q": words or None, "limit": limit})


async def one_tune(here: GroupClient, tune: str) -> TuneOut:
    return await here.get(f"/tunes/{in_path(tune)}", TuneOut)


async def add(here: GroupClient, tune: TuneIn) -> TuneOut:
    return await here.post("/tunes", TuneOut, tune)


async def read(here: GroupClient, data: bytes, track: int | None = None) -> TuneProposals:
    """The tunes in a file; of a MIDI file perhaps that of another track."""
    path = f"/tunes/files{asked({'track': track})}"
    return await here.upload("POST", path, data, "application/octet-stream", TuneProposals)


async def change(here: GroupClient, tune: str, revision: int, body: TuneBody) -> TuneOut:
    """Its cuts are kept where they fit the chart."""
    return await here.put(f"/tunes/{in_path(tune)}?fit_cuts=true", TuneOut, body, f'"{revision}"')


def as_sent(tune: TuneOut) -> TuneBody:
    """A tune as it can be sent in again with nothing lost."""
    single = all(len(name) == 1 for name in tune.order)
    order = ("" if single else " ").join(tune.order)
    return TuneBody(
        name=tune.name,
        key=tune.key,
        meter=tune.meter,
        tempo=tune.tempo,
        chart=tune.chart,
        order=order if len(order) <= MOST_ORDER else None,  # a longer one stands in the chart
        cuts=tune.cuts,
        roles=tune.roles,
        melody=tune.melody,
        settings=tune.settings,
        plain=tune.plain,
        rights=tune.rights,
    )


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
