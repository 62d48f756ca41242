"""The demo scenario's names and VINs, against tables of real ones."""

import re

import pytest
from vininfo.dicts.wmi import WMI  # type: ignore[import-untyped]

from service.catalogue.demo import EXAMPLE_VINS, VEHICLES, normalised, vpic
from snapline.wire.catalogue import VehicleDocument
from snapline_service.vehicles.vin import decode, matches


def test_no_make_or_model_is_in_the_vpic_or_vininfo_tables() -> None:
    makers = {normalised(name) for table in ("make", "manufacturer") for name in vpic("name", table)}
    makers |= {normalised(str(getattr(brand, "title", brand))) for brand in WMI.values()}
    models = {normalised(name) for table in ("model", "series", "trim") for name in vpic("name", table)}
    for vehicle in VEHICLES.values():
        assert not any(normalised(vehicle.make) in maker for maker in makers), vehicle.make
        assert normalised(vehicle.model) not in models | makers, vehicle.model
    assert {"mercedesbenz", "volvo"} <= makers  # the tables were really read


def test_no_manufacturer_code_is_in_the_vpic_or_vininfo_tables() -> None:
    taken = vpic("code", "wmi") | vpic("wmi", "pattern")
    for vehicle in VEHICLES.values():
        for code in {entry.pattern[:3] for entry in vehicle.vin_patterns}:
            assert code not in taken
            # vininfo also knows codes of two characters, which stand for all that begin so.
            assert not any(code.startswith(known) for known in WMI)
            assert code[2] != "9", (
                "a third 9 marks makers of fewer than 1,000 vehicles a year (49 CFR 565.16(a))"
            )


@pytest.mark.parametrize("vehicle", VEHICLES.values(), ids=VEHICLES)
def test_the_example_vin_is_sound_and_its_vehicle_and_model_year_agree(vehicle: VehicleDocument) -> None:
    vin = decode(EXAMPLE_VINS[vehicle.id], light_vehicle=vehicle.light_vehicle)
    assert vin.check_digit in ("matches", "not_applicable")
    assert any(matches(entry.pattern, vin.vin) for entry in vehicle.vin_patterns)
    last = vehicle.model_year_last or 2100
    assert any(vehicle.model_year_first <= year <= last for year in vin.model_years)
    others = [
        v for v in VEHICLES.values() if any(matches(entry.pattern, vin.vin) for entry in v.vin_patterns)
    ]
    assert {(v.make, v.model) for v in others} == {(vehicle.make, vehicle.model)}


def test_north_american_patterns_leave_the_check_digit_open_and_name_the_model_years() -> None:
    found = [(v, e.pattern) for v in VEHICLES.values() for e in v.vin_patterns if e.pattern[0] in "12345"]
    assert len({pattern[:3] for _, pattern in found}) >= 2
    for vehicle, pattern in found:
        ninth, tenth = re.findall(r"\[[^]]+\]|.", pattern)[8:10]
        assert ninth == "?"
        # 49 CFR 565.15(d)(1), Table VII: A is 2010, and I, O, Q, U, Z are left out.
        years = {2010 + "ABCDEFGHJKLMNPRSTVWXY".index(letter) for letter in tenth.strip("[]")}
        assert min(years) == vehicle.model_year_first
        assert max(years) <= (vehicle.model_year_last or 2030)
