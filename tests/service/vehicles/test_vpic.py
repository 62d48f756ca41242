"""The vPIC hint against the package ``vin`` itself and the recorded years; it fails into silence."""

import csv
import os
import subprocess
import sys
import warnings
from collections.abc import Callable
from pathlib import Path
from types import ModuleType, SimpleNamespace

import pytest
from vin import VIN  # type: ignore[import-untyped]

from snapline_service.vehicles.vin import decode
from snapline_service.vehicles.vpic import VpicHint, hint

with (Path(__file__).parent / "vin_cases.csv").open(newline="") as table:
    KNOWN_TO_VPIC = {
        case["vin"]: int(case["model_year_vpic_vin_0_6_2"])
        for case in csv.DictReader(table)
        if case["model_year_vpic_vin_0_6_2"]
    }
NORTH_AMERICAN = [vin for vin in KNOWN_TO_VPIC if vin[0] in "12345"]
HEAVY_TRUCK = "1XPTD40X6JD456115"


@pytest.mark.parametrize("vin", NORTH_AMERICAN)
def test_the_hint_says_what_vpic_says(vin: str) -> None:
    said = hint(decode(vin))
    assert said is not None
    assert said.model_year == KNOWN_TO_VPIC[vin]
    assert (said.make, said.model or "") == (VIN(vin).make, VIN(vin).model)
    assert said.make


@pytest.mark.parametrize("vin", NORTH_AMERICAN)
def test_our_model_years_include_that_of_vpic(vin: str) -> None:
    light = vin != HEAVY_TRUCK
    years = decode(vin, light_vehicle=light).model_years
    assert KNOWN_TO_VPIC[vin] in years
    assert len(years) == (1 if light else 2)


@pytest.mark.parametrize(
    "vin",
    [
        "WP0ZZZ99ZTS392124",  # European (zint VIN backend tests)
        "JF1GR8H6XBL831881",  # built in Japan, though vPIC could decode it
        "1HGCM82633A004353",  # wrong check digit (C# VIN tests)
        "11111111111111111",  # well formed, no such maker
    ],
)
def test_nothing_is_said_of_a_vin_that_vpic_cannot_or_should_not_decode(vin: str) -> None:
    assert hint(decode(vin)) is None


def test_nothing_is_said_without_the_extra(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "vin", None)  # makes the import fail
    assert hint(decode(NORTH_AMERICAN[0])) is None


def _stand_in(monkeypatch: pytest.MonkeyPatch, reader: Callable[[str], object]) -> None:
    package = ModuleType("vin")
    package.VIN = reader  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "vin", package)


def test_an_error_of_the_package_does_not_get_out(monkeypatch: pytest.MonkeyPatch) -> None:
    def failing(number: str) -> object:
        raise RuntimeError(number)

    _stand_in(monkeypatch, failing)
    assert hint(decode(NORTH_AMERICAN[0])) is None


def test_a_warning_of_the_package_neither_gets_out_nor_costs_the_hint(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def warning(number: str) -> object:
        warnings.warn(f"about {number}", stacklevel=1)  # an error, as the tests run
        return SimpleNamespace(make="Invented", model="", model_year=2020)

    _stand_in(monkeypatch, warning)
    assert hint(decode(NORTH_AMERICAN[0])) == VpicHint("Invented", None, 2020)


def test_the_package_is_loaded_only_when_it_is_asked() -> None:
    program = "import sys, snapline_service.vehicles.vpic; sys.exit('vin' in sys.modules)"
    paths = os.pathsep.join(path for path in sys.path if path)
    subprocess.run([sys.executable, "-c", program], check=True, env={"PYTHONPATH": paths})
