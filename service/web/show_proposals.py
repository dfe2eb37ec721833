"""Proposed licks as they go over the wire, with what is said of them."""

from schemas.arrangements import LickProposalOut
from schemas.judgements import TempoOut
from service.arrange.proposals import Proposal
from service.usecases.proposing import Offered
from service.usecases.shown_licks import shown_of
from service.web.charted import chords_line
from service.web.judged import finding_out, recall_sentence, sentence
from service.wording import say, says

MOST_NAME = 120


def proposal_name(one: Proposal, language: str) -> str:
    """Its name, and in brackets what tells it from others of that name."""
    words = ", ".join(
        say(code, {}, language) if says(code := f"named-{kind}") else kind for kind in one.how.kinds
    )
    return f"{one.lick.name[: MOST_NAME - len(words) - 3]} ({words})"


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
        name=proposal_name(one, language),
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
