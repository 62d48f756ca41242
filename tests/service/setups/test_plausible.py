"""A slip of the pen is refused and a crooked axle stops the work."""

import pytest

from snapline import Snapline
from snapline.errors import ProblemError
from snapline.wire.setups import SetupRequest
from snapline_service.plausible import RANGES_MM, agrees, is_dimension


def request(**measured: float) -> SetupRequest:
    """Ask for one car's setup with dimensions measured on it."""
    return SetupRequest(
        vehicle_id="jorvantel-rhedgarn-2020-us",
        procedure_id="radar-reflector",
        measured={f"vehicle.{name}": value for name, value in measured.items()},
    )


@pytest.mark.parametrize("wheelbase_mm", [2.89, 289.0, 113.8, 3300.0])
def test_metres_centimetres_inches_and_another_car_are_refused(client: Snapline, wheelbase_mm: float) -> None:
    with pytest.raises(ProblemError) as refused:
        client.setups.compute(request(wheelbase_mm=wheelbase_mm))
    assert refused.value.errors[0].pointer == "/measured/vehicle.wheelbase_mm"
    assert "millimetres" in refused.value.detail


def test_a_raised_or_worn_car_is_not(client: Snapline) -> None:
    setup = client.setups.compute(request(wheelbase_mm=2880.0, width_mm=1940.0))
    assert setup.vehicle.wheelbase_mm == 2880.0


def test_beyond_the_thrust_limit_the_answer_says_stop(client: Snapline) -> None:
    # The catalogue's limit for this car is 0.2 degrees.
    for yaw_deg, side in ((0.21, "left"), (-0.21, "right")):
        setup = client.setups.compute(request(thrust_yaw_deg=yaw_deg))
        (stop,) = setup.stops_work
        assert side in stop
        assert "align the wheels first" in stop
        drawing = client.setups.drawing(request(thrust_yaw_deg=yaw_deg))
        assert "do not aim" in drawing
        assert "DO NOT AIM THE CAR AS IT STANDS" in drawing
        assert ">Stop<" in drawing
    assert client.setups.compute(request(thrust_yaw_deg=0.2)).stops_work == ()


def test_an_unmeasured_thrust_line_is_said_to_be_assumed(client: Snapline) -> None:
    assert "rear toe" in client.setups.compute(request()).assumed[0]
    measured = client.setups.compute(request(thrust_yaw_deg=0.0))
    assert not any("rear toe" in text for text in measured.assumed)


def test_real_cars_are_inside_the_limits_and_inches_are_not() -> None:
    # Extremes of Cars93 (Lock 1993): wheelbase 90 to 119 in, width 60 to 78 in.
    for dimension, inches in (("wheelbase_mm", (90, 119)), ("width_mm", (60, 78))):
        assert all(is_dimension(dimension, inch * 25.4) for inch in inches)
        assert not any(is_dimension(dimension, inch) for inch in inches)
    assert all(low < high for low, high in RANGES_MM.values())
    assert agrees(895 + 100, 895)
    assert not agrees(895 + 101, 895)
