"""What the demo shows of one procedure: where fixtures stand, how to set them out, and the proof."""

from collections.abc import Iterator

from rich.console import Console
from rich.table import Table

from snapline import Snapline
from snapline.wire.setup_setting_out import PointSettingOut
from snapline.wire.setups import PlacedFixture, Setup
from snapline.wire.verification import MeasuredDistance, MeasuredHeight, Verification
from snapline_service.setups.wording import length

_SLIP_MM, _U_MM, _U_DEG = 6.0, 0.5, 0.02


def coordinates(setup: Setup) -> Table:
    """Show where every fixture stands."""
    title = f"\n5  Where does it stand: {setup.procedure_name}, {setup.vehicle_name}?"
    table = Table(title=title, title_justify="left")
    for heading in ("stands", "place in words"):
        table.add_column(heading)
    for heading in ("x mm", "y mm", "z mm", "u mm"):
        table.add_column(heading, justify="right")
    for stage in setup.stages:
        for item in stage.placements:
            pose, covariance = item.in_vehicle, item.covariance_xy_mm2
            u = f"{(covariance[0][0] + covariance[1][1]) ** 0.5:.1f}" if covariance else "unknown"
            name = item.fixture.name if item.fixture else item.capability
            place = (f"{pose.x_mm:,.1f}", f"{pose.y_mm:,.1f}", f"{pose.z_mm:,.1f}", u)
            table.add_row(name, item.sentence, *place)
    return table


def details(setup: Setup, out: Console) -> None:
    """Print the room that it takes, what was assumed, and the cautions."""
    out.print("x forward, y left, z up; origin on the floor below the midpoint of the rear axle (ISO 8855).")
    if setup.envelope:
        room = f"{length(setup.envelope.length_mm)} long and {length(setup.envelope.width_mm)} wide"
        out.print(f"Room for car, fixtures and clear zones: {room}.")
    for said in (*setup.stops_work, *setup.assumed):
        out.print(f"! {said}")
    if setup.without_uncertainty:
        unknown = ", ".join(name.removeprefix("vehicle.") for name in setup.without_uncertainty)
        out.print(f"u leaves out what no uncertainty is stated for: {unknown}.")
    for caution in setup.cautions:
        out.print(f"• {caution.text}")


def tapes(setup: Setup) -> Table:
    """Show from which marks tapes bring every point to the floor."""
    tape = setup.tape_text[:1].lower() + setup.tape_text[1:]
    headings = ("point", "from", "distance", "and from", "distance", "check from", "distance")
    table = Table(*headings, title=f"\n6  How to set it out with a {tape}?", title_justify="left")
    for _, point in _points(setup):
        if len(point.distances) == 2:
            one, other = point.distances
            check = (point.check.mark, point.check.text) if point.check else ("none", "")
            table.add_row(point.name, one.mark, one.text, other.mark, other.text, *check)
    return table


def proof(client: Snapline, setup: Setup) -> Table:
    """Show what the service says of tapes as they should be, with or without known figures, and of a slip."""
    title = "\n7  Is it really there?"
    table = Table("measured", "fixture", "outcome", "what to do", title=title, title_justify="left")
    first = _verified(client, setup, 0.0, {})
    stated = {name: _U_DEG if name.endswith("_deg") else _U_MM for name in first.uncertainty_not_stated}
    sure = f"with every figure of the car known to {_U_MM:g} mm and {_U_DEG:g}°"
    for label, found in (
        ("as set out", first),
        (f"as set out, {sure}", _verified(client, setup, 0.0, stated)),
        (f"the same, one tape {_SLIP_MM:g} mm longer", _verified(client, setup, _SLIP_MM, stated)),
    ):
        for one in found.placements:
            advice = " ".join((*one.advice, *found.advice)) or "nothing"
            table.add_row(label, one.id, one.outcome.replace("_", " "), advice)
    return table


def _verified(client: Snapline, setup: Setup, slip_mm: float, stated: dict[str, float]) -> Verification:
    return client.setups.verify(
        vehicle_id=setup.vehicle_id,
        procedure_id=setup.procedure_id,
        standard_uncertainty=stated,
        distances=list(_measured(setup, slip_mm)),
        heights={item.id: _height(item) for stage in setup.stages for item in stage.placements},
    )


def _measured(setup: Setup, slip_mm: float) -> Iterator[MeasuredDistance]:
    """Yield every distance of the setting-out, the first of them longer by a slip."""
    for item, point in _points(setup):
        tapes = [(one.mark, one.distance_mm) for one in point.distances]
        tapes += [(point.check.mark, point.check.distance_mm)] if point.check else []
        for mark, distance_mm in tapes:
            measured_mm = distance_mm + slip_mm
            slip_mm = 0.0
            yield MeasuredDistance(placement=item.id, point=point.name, mark=mark, distance_mm=measured_mm)


def _points(setup: Setup) -> Iterator[tuple[PlacedFixture, PointSettingOut]]:
    for stage in setup.stages:
        for item in stage.placements:
            for point in item.setting_out.points if item.setting_out else ():
                yield item, point


def _height(item: PlacedFixture) -> MeasuredHeight:
    return MeasuredHeight(height_mm=item.in_vehicle.z_mm, u_mm=1.0)
