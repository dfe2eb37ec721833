"""What is said of the rests in a break, where licks were taken down or are hidden."""

from schemas.base import Sentence
from service.usecases.made_breaks import Break, BreakPhrase, Rest
from service.web.judged import sentence
from service.wording import say


def rest_note(rest: Rest, language: str, measure: int | None = None) -> Sentence:
    """That a lick was taken down or erased here: its number and the measure (of the whole break without one), nothing else of it."""
    measure = rest.form[0].measure if measure is None else measure
    return sentence(
        "rest-erased" if rest.erased else "rest-stands",
        {"lick": rest.lick, "measure": measure},
        language,
        measure,
    )


def hidden_note(hidden: BreakPhrase, language: str) -> str:
    return say("sheet-hidden", {"phrase": hidden.form[0].number}, language)


def rest_remarks(shown: Break, language: str, hidden: BreakPhrase | None = None) -> dict[int, str]:
    """The same for a tab, by the measures that the rests begin in."""
    remarks = {rest.form[0].measure: rest_note(rest, language).text for rest in shown.rests}
    return remarks if hidden is None else remarks | {hidden.form[0].measure: hidden_note(hidden, language)}
