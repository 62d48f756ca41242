"""Marks that a car gives, and what of it bars a tape."""

from dataclasses import replace

import numpy as np
import pytest

from snapline_service.geometry import VehicleGeometry
from snapline_service.geometry.blockers import Blockers
from snapline_service.geometry.vehicle_marks import TYRE_WIDTH, floor_barred_by, vehicle_marks

WHEELS = {"front left wheel", "front right wheel", "rear left wheel", "rear right wheel"}


def test_wheel_marks_stand_outside_the_tyre(car: VehicleGeometry) -> None:
    # Half the track, half the tyre and 50 mm: 780 + 112.5 + 50 in front, 790 + 112.5 + 50 behind.
    found = vehicle_marks(car, 225.0)
    assert found.left_out == {}
    places = {name: (at.x.value, at.y.value) for name, at in found.points.items()}
    assert places == {
        "front left wheel": (2810.0, 942.5),
        "front right wheel": (2810.0, -942.5),
        "rear left wheel": (0.0, 952.5),
        "rear right wheel": (0.0, -952.5),
        "front bumper": (2810.0 + 870.0, 0.0),
        "rear bumper": (-960.0, 0.0),
    }
    assert vehicle_marks(car, 225.0, clearance_mm=0.0).points["rear left wheel"].y.value == 902.5


def test_slopes_are_those_of_the_dimensions(car: VehicleGeometry) -> None:
    step = 0.5
    for field in ("wheelbase_mm", "front_track_mm", "rear_track_mm", "front_overhang_mm", "rear_overhang_mm"):
        moved = vehicle_marks(replace(car, **{field: getattr(car, field) + step}), 225.0).points
        for name, at in vehicle_marks(car, 225.0).points.items():
            for axis in ("x", "y"):
                slope = dict(getattr(at, axis).slopes).get(f"vehicle.{field}", 0.0)
                change = getattr(moved[name], axis).value - getattr(at, axis).value
                assert slope == pytest.approx(change / step)
    wider = vehicle_marks(car, 225.0 + step).points
    for name, at in vehicle_marks(car, 225.0).points.items():
        slope = dict(at.y.slopes).get(TYRE_WIDTH, 0.0)
        assert slope == pytest.approx((wider[name].y.value - at.y.value) / step)


def test_a_missing_dimension_leaves_out_its_marks_and_is_named(car: VehicleGeometry) -> None:
    no_tyre = vehicle_marks(car, None)
    assert set(no_tyre.points) == {"front bumper", "rear bumper"}
    assert no_tyre.left_out == dict.fromkeys(WHEELS, TYRE_WIDTH)
    no_overhang = vehicle_marks(replace(car, front_overhang_mm=None), 225.0)
    assert no_overhang.left_out == {"front bumper": "vehicle.front_overhang_mm"}
    no_track = vehicle_marks(replace(car, rear_track_mm=None), 225.0)
    assert set(no_track.left_out.values()) == {"vehicle.rear_track_mm"}
    assert len(no_track.left_out) == 2


def free(car: VehicleGeometry, start: tuple[float, float], end: tuple[float, float], *, under: bool) -> bool:
    barred = Blockers(floor_barred_by(car, 225.0, under_vehicle=under))
    return barred.first_in_the_way(np.array([start]), end) == [None]


def test_tyres_always_bar_a_tape_and_overhangs_never(car: VehicleGeometry) -> None:
    left, right = (2810.0, 942.5), (2810.0, -942.5)
    for under in (False, True):
        assert free(car, left, (5200.0, 500.0), under=under)  # under the front overhang
        assert not free(car, (2810.0, 942.5), (2810.0, 0.0), under=under)  # through the tyre
        assert not free(car, (-100.0, 952.5), (0.0, 600.0), under=under)
    assert not free(car, left, right, under=True)
    assert not free(car, (1400.0, 1200.0), (1400.0, -1200.0), under=False)
    assert free(car, (1400.0, 1200.0), (1400.0, -1200.0), under=True)
    assert floor_barred_by(replace(car, rear_track_mm=None), 225.0) == []
