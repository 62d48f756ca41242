"""What the demo shows of a visit: its scope, which of two sites can do it, and the order of work."""

from datetime import UTC, datetime, timedelta

from rich.table import Table

from snapline.wire.scope import RepairLine
from snapline.wire.visits import VisitPlan, VisitRequest

_SITES = ("harbour-yard", "mill-road")
_LINES = (
    RepairLine(operation="windshield", extent="replaced"),
    RepairLine(operation="rear bumper cover", extent="removed_and_refitted"),
)


def request(vehicle_id: str) -> VisitRequest:
    """Return a visit for tomorrow at two sites."""
    tomorrow = datetime.now(UTC).date() + timedelta(days=1)
    return VisitRequest(
        vehicle_id=vehicle_id,
        operations=_LINES,
        options={"corner_radars": "yes"},
        date=tomorrow.isoformat(),
        sites=_SITES,
    )


def scope(plan: VisitPlan) -> Table:
    """Show what the repair lines call for."""
    lines = " and ".join(
        f"{one.text} {(one.extent or '').replace('_', ' ')}" for one in plan.scope.operations
    )
    title = f"\n8  What does this repair call for: {lines}?"
    table = Table("system", "calibration", "why", title=title, title_justify="left")
    for system in plan.scope.systems:
        why = " ".join(dict.fromkeys(one.reason for one in system.reasons if one.effect == system.answer))
        table.add_row(system.name, (system.answer or "not fitted").replace("_", " "), why)
    return table


def sites(plan: VisitPlan) -> Table:
    """Show which site can do it, and what would mend the other."""
    title = f"\n9  Which site can do it on {plan.date}?"
    table = Table(title=title, title_justify="left")
    for heading in ("site", "can", "bay", "minutes", "what stops it", "remedy"):
        table.add_column(heading, overflow="fold")
    for site in plan.sites:
        stops = " ".join(dict.fromkeys(one.text for one in site.blockers))
        bays = ", ".join(dict.fromkeys(pose.bay_name for pose in site.poses))
        mend = " ".join(one.text for one in site.remedies)
        minutes = "" if site.outcome == "cannot" else f"{site.total_min:g}"
        table.add_row(site.name, site.outcome, bays, minutes, stops, mend)
    return table


def order(plan: VisitPlan) -> Table:
    """Show the order of work at the best site."""
    best = plan.sites[0]
    title = f"\n10  In which order, at {best.name}?"
    table = Table("from", "to", "step", "stand up", "people", title=title, title_justify="left")
    for step in best.steps:
        table.add_row(step.starts_at, step.ends_at, step.text, ", ".join(step.stand_up), str(step.people))
    return table
