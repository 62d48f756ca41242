"""A visit's order where the catalogue leaves the adhesive out of every procedure."""

from snapline.wire.catalogue import Procedure
from snapline.wire.common import SourceRef
from snapline.wire.visits import StepMinutes
from snapline_service.visits.ordering import Work, in_order, steps_of

SOURCE = SourceRef(source="invented", locator="section 1")
ZERO = Procedure(id="zero", name="Zero a sensor", method="scan_tool", duration_min=5, source=SOURCE)


def test_no_car_is_handed_over_before_its_adhesive_holds() -> None:
    # Common practice, no source: the customer drives off, so the safe drive-away time has passed.
    work = Work([ZERO], {}, [], [], {}, frozenset(), cure_min=120)
    steps = steps_of(in_order(work, StepMinutes()), work, "08:00")
    assert [(step.kind, step.starts_at) for step in steps[-3:]] == [
        ("function_check", "08:45"),
        ("wait", "08:55"),
        ("hand_over", "10:00"),
    ]
