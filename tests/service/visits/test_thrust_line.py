"""A thrust line that was measured beyond the vehicle's limit: wheels come first, and the plan says so."""

import msgspec
import pytest

from snapline import Snapline
from snapline.wire.scope import RepairLine
from snapline.wire.visits import VisitRequest

THRUST = "vehicle.thrust_yaw_deg"
WITHIN = VisitRequest(
    vehicle_id="mirandeux-celadine-2023-eu",
    operations=(RepairLine(operation="rear bumper cover", extent="removed_and_refitted"),),
    options={"corner_radars": "yes"},
    date="2028-08-11",
    measured={THRUST: 0.1},
)


@pytest.mark.parametrize(("yaw_deg", "side"), [(44.0, "left"), (-0.16, "right")])
def test_beyond_the_limit_wheels_are_aligned_and_measured_again_before_aiming(
    client: Snapline, yaw_deg: float, side: str
) -> None:
    plan = client.visits.plan(msgspec.structs.replace(WITHIN, measured={THRUST: yaw_deg}))
    said = (
        f"The thrust line is turned {abs(yaw_deg):g}° to the {side} and 0.15° is the limit: "
        "align the wheels first, measure again, and aim only inside the limit."
    )
    assert (plan.outcome, plan.sites[0].outcome) == ("conditional", "conditional")
    assert said in plan.outcome_because
    assert any(said in one for one in plan.assumed)
    kinds = [step.kind for step in plan.sites[0].steps]
    assert kinds.index("wheel_alignment") < kinds.index("set_up")
    assert "wheel_alignment" in [line.code for line in plan.quote_lines]


def test_a_setup_and_a_plan_give_the_same_reason(client: Snapline) -> None:
    beyond = msgspec.structs.replace(WITHIN, measured={THRUST: 44.0})
    setup = client.setups.compute(
        vehicle_id=WITHIN.vehicle_id, procedure_id="rear-radars-reflectors", measured={THRUST: 44.0}
    )
    reason = setup.stops_work[0].partition(":")[0]
    assert reason in client.visits.plan(beyond).outcome_because


def test_room_is_reckoned_for_the_car_as_it_is_aimed_after_alignment(client: Snapline) -> None:
    beyond = client.visits.plan(msgspec.structs.replace(WITHIN, measured={THRUST: 44.0}))
    straight = client.visits.plan(msgspec.structs.replace(WITHIN, measured={THRUST: 0.0}))
    assert beyond.sites[0].poses == straight.sites[0].poses


def test_inside_the_limit_nothing_is_asked(client: Snapline) -> None:
    plan = client.visits.plan(WITHIN)
    assert plan.outcome == "can"
    assert "wheel_alignment" not in [step.kind for step in plan.sites[0].steps]
    assert not any("limit" in one for one in plan.assumed)


def test_where_nothing_is_aimed_in_the_bay_the_thrust_line_stops_nothing(client: Snapline) -> None:
    zeroing = msgspec.structs.replace(
        WITHIN, operations=(RepairLine(operation="steering column"),), measured={THRUST: 44.0}
    )
    plan = client.visits.plan(zeroing)
    assert [step.method for step in plan.sites[0].steps if step.kind == "procedure"] == ["scan_tool"]
    assert not any("limit" in one for one in (plan.outcome_because, *plan.assumed))
