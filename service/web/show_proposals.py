"""Proposed licks as they go over the wire, with what is said of them."""

from schemas.arrangements import LickProposalOut
from schemas.judgements import TempoOut
from service.usecases.proposing import Offered
from service.usecases.shown_licks import shown_of
from service.web.charted import chords_line
from service.web.judged import finding_out, recall_sentence, sentence


def proposal_out(offered: Offered, language: str) -> LickProposalOut:
    one = offered.proposal
    lick, judged = one.lick, one.judged
    top, shown = judged.hands.top_bpm, shown_of(lick)
    reasons = [sentence("fit-share", {"percent": round(100 * judged.fit.share)}, language)]
    if judged.recall is not None:
        reasons.append(recall_sentence(judged.recall, language))
    reasons += [finding_out(finding, lick, language) for finding in judged.findings]
    return LickProposalOut(
        key=offered.key,
        name=lick.name,
        style=lick.style,
        chords=chords_line(lick.changes),
        tab=shown.tab,
        line=shown.line,
        level=lick.level,
        top=None if top is None else TempoOut(bpm=top, unit=judged.hands.unit),
        fit=round(judged.fit.score, 4),
        melody=None if judged.recall is None else round(judged.recall.share, 4),
        how=sentence(one.how.code, dict(one.how.params), language),
        reasons=reasons,
    )
