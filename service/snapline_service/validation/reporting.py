"""A draft's validation report."""

from pathlib import Path

import msgspec
from sqlmodel import Session

from snapline.wire.validation import Finding, ValidationReport
from snapline_service.catalogue import draft_store
from snapline_service.catalogue.tables import DraftRow
from snapline_service.validation.checking import findings

_SHOWN = 1000


def report(session: Session, draft: DraftRow, published: Path | None) -> ValidationReport:
    """Return what is wrong with a draft, and which warnings somebody took note of."""
    reasons = {row.finding: row.reason for row in draft_store.acknowledgements(session, draft.id)}
    found = [
        Finding(**msgspec.structs.asdict(one), acknowledged=reasons.get(one.id))
        for one in findings(session, draft, published)
    ]
    found.sort(key=lambda one: (one.severity, one.kind, one.name, one.pointer, one.code))
    warnings = [one for one in found if one.severity == "warning"]
    return ValidationReport(
        errors=len(found) - len(warnings),
        warnings=len(warnings),
        acknowledged=sum(one.acknowledged is not None for one in warnings),
        items=tuple(found[:_SHOWN]),
    )
