"""Every car of the UCI data set 'Automobile' (J. Schlimmer 1987; wheelbase, length and width in inches).

The data set is not ours to pass on: it is read from a folder beside the checkout where there is one. The cars
of ``test_real_cars.py`` come from packages and are always tried.
"""

import csv
from pathlib import Path

import pytest

from snapline_service.geometry import (
    Offset,
    Placement,
    VehicleGeometry,
    extent,
    footprint,
    place,
    vehicle_outline,
)

FILE = Path(__file__).parents[3] / "shared/checks/data/vehicles/uci_imports85_dimensions.csv"
MM_PER_INCH = 25.4  # exact


@pytest.fixture(scope="module")
def cars() -> list[VehicleGeometry]:
    """Overhangs are not in the set: 45 % of length minus wheelbase is taken to be in front."""
    if not FILE.exists():
        pytest.skip("the UCI data set is not beside this checkout")
    with FILE.open() as lines:
        rows = [{k: float(v) for k, v in row.items() if k.endswith("_in")} for row in csv.DictReader(lines)]
    return [
        VehicleGeometry(
            wheelbase_mm=row["wheel_base_in"] * MM_PER_INCH,
            front_overhang_mm=0.45 * (row["length_in"] - row["wheel_base_in"]) * MM_PER_INCH,
            rear_overhang_mm=0.55 * (row["length_in"] - row["wheel_base_in"]) * MM_PER_INCH,
            width_mm=row["width_in"] * MM_PER_INCH,
        )
        for row in rows
    ]


def test_the_file_is_the_published_one(cars: list[VehicleGeometry]) -> None:
    wheelbases = [car.wheelbase_mm for car in cars if car.wheelbase_mm]
    assert len(cars) == 205
    assert sum(wheelbases) / 205 / MM_PER_INCH == pytest.approx(98.757, abs=0.0005)
    assert (min(wheelbases), max(wheelbases)) == pytest.approx((86.6 * MM_PER_INCH, 120.9 * MM_PER_INCH))


def test_a_board_ahead_of_the_bumper_and_the_room_it_takes_with_the_car(cars: list[VehicleGeometry]) -> None:
    ahead = Placement(
        "centreline", Offset("front_bumper", 1500), Offset("centreline", 0), Offset("floor", 1200), 180
    )
    for car in cars:
        assert car.wheelbase_mm
        assert car.front_overhang_mm
        assert car.rear_overhang_mm
        assert car.width_mm
        pose = place(car, ahead).in_vehicle
        assert pose.x_mm == pytest.approx(car.wheelbase_mm + car.front_overhang_mm + 1500)
        board = footprint([(0, -1200), (0, 1200), (-100, 1200), (-100, -1200)], pose)
        room = extent([vehicle_outline(car), board])
        length_mm = car.rear_overhang_mm + car.wheelbase_mm + car.front_overhang_mm + 1500 + 100
        assert room.length_mm == pytest.approx(length_mm)
        assert room.width_mm == pytest.approx(max(2400, car.width_mm))
