"""The period that is asked about."""

from datetime import datetime

from snapline.wire.changes import AuditQuery
from snapline_service.errors import BadInput, Fault


def require_period(wanted: AuditQuery) -> None:
    """Raise BadInput for a moment that no calendar has, or a period that ends before it begins."""
    for name, moment in (("since", wanted.since), ("until", wanted.until)):
        try:
            datetime.fromisoformat(moment or "2000-01-01")
        except ValueError:
            fault = Fault(f"/{name}", f"'{moment}' is on no calendar.", "Give a day: 2027-01-31.")
            raise BadInput([fault]) from None
    if wanted.since and wanted.until and wanted.since > wanted.until:
        detail = f"The period ends at {wanted.until}, before it begins."
        raise BadInput([Fault("/until", detail, "Give the earlier day as its beginning.")])
