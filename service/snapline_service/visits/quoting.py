"""Lines that shop-management software can take over."""

from collections.abc import Iterator, Mapping

from snapline.wire.catalogue import Procedure
from snapline.wire.visits import QuoteLine, SitePlan


def quote_lines(site: SitePlan, procedures: Mapping[str, Procedure]) -> Iterator[QuoteLine]:
    """Yield a line for every step that takes somebody's time; a procedure's line counts its set-up in."""
    set_up_min: dict[str, float] = {}
    for step in site.steps:
        minutes = step.end_min - step.start_min
        if step.kind == "set_up" and step.procedure:
            set_up_min[step.procedure] = minutes
        elif step.kind == "procedure" and step.procedure:
            procedure = procedures[step.procedure]
            used = [one.fixture for one in site.assets if one.procedure == step.procedure]
            yield QuoteLine(
                code=f"{procedure.method}:{procedure.id}",
                text=procedure.name,
                minutes=minutes + set_up_min.pop(step.procedure, 0.0),
                procedure=procedure.id,
                fixtures=tuple(dict.fromkeys(used)),
                conditional=step.conditional,
            )
        elif step.kind != "wait":
            yield QuoteLine(
                code=step.kind,
                text=step.text,
                minutes=minutes,
                procedure=None,
                fixtures=(),
                conditional=False,
            )
