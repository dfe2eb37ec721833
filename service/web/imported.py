"""Imports: tables become submissions as bodies do, and reports go over the wire."""

import msgspec

from schemas.imports import ImportedOut, ImportOut
from schemas.licks import LickIn
from service.errors import DomainError
from service.usecases.lick_files import Table
from service.usecases.lick_imports import Import, Imported
from service.usecases.licks import Submission
from service.web.field_faults import field_fault
from service.web.judged import finding_out, sentence
from service.web.problems import place
from service.web.show import submission


def as_submission(table: Table) -> Submission:
    """A lick's table as a submission, with the bounds of LickIn. Raises DomainError with the field."""
    try:
        return submission(msgspec.convert(table, LickIn))
    except msgspec.ValidationError as error:
        raise DomainError("bad-lick", at=[field_fault(str(error))], count=1) from None


def imported_out(item: Imported, language: str) -> ImportedOut:
    found, kept = item.found, item.kept
    shown = ImportedOut(file=found.path, place=found.place, name=found.name, outcome="faulty")
    if kept is not None:
        shown.outcome, shown.number, shown.state = "kept", kept.number, kept.state
        shown.reasons = [finding_out(finding, kept.lick, language) for finding in kept.facts.findings]
    elif item.skipped is not None:
        shown.outcome, shown.why = "skipped", sentence(item.skipped.code, item.skipped.params, language)
    shown.at = [place(fault, language) for fault in item.at]
    return shown


def import_out(report: Import, language: str) -> ImportOut:
    items = [imported_out(item, language) for item in report.items]
    count = {
        outcome: sum(item.outcome == outcome for item in items) for outcome in ("kept", "skipped", "faulty")
    }
    cautions = [sentence("caution-rights", {}, language)] if count["kept"] else []
    return ImportOut(dry=report.dry, items=items, cautions=cautions, **count)
