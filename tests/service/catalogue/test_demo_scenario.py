"""The demo scenario: that it is sound, says it is invented, and that no vehicle repeats another."""

import json
import re
from collections.abc import Callable, Iterator
from itertools import combinations
from math import log10, pi
from typing import Any

import msgspec
import pytest

from service.catalogue.demo import (
    CORRECTIONS,
    FILED,
    FIXTURES,
    FOLDER,
    OPERATIONS,
    SOURCES,
    STANDING,
    VEHICLES,
    every_placement,
)
from snapline.wire.catalogue import Procedure, VehicleDocument
from snapline.wire.vocabulary import SYSTEM_KINDS
from snapline_service.catalogue.files import Filed
from snapline_service.catalogue.references import Names, check


def test_the_importer_finds_nothing_wrong() -> None:
    names = Names(frozenset(SOURCES), frozenset(FIXTURES), OPERATIONS)
    found = [
        filed if not isinstance(filed, Filed) else check(filed.document, names)
        for filed in FILED + CORRECTIONS
    ]
    assert [faults for faults in found if faults != []] == []
    assert len(VEHICLES) >= 30
    assert len(FIXTURES) >= 25
    assert len(OPERATIONS) >= 22


def test_every_file_says_that_it_is_invented() -> None:
    for path in FOLDER.rglob("*.json"):
        assert json.loads(path.read_text())["invented"] is True, path.name
    assert "invented" in (FOLDER / "README.md").read_text().splitlines()[0]
    assert all("invented" in source.title for source in SOURCES.values())


def test_a_file_carries_the_name_of_its_document_and_a_vehicle_stands_in_its_makers_folder() -> None:
    for filed in FILED + CORRECTIONS:
        assert isinstance(filed, Filed)
        assert filed.origin.file.stem == filed.document.id
        if isinstance(filed.document, VehicleDocument):
            assert filed.origin.file.parent.name == filed.document.make.lower()


def test_every_part_of_a_vehicle_is_used_by_another_part() -> None:
    for vehicle in VEHICLES.values():
        ways = [way for s in vehicle.systems for r in s.requirements for way in r.alternatives]
        assert {name for way in ways for name in way.procedures} == {p.id for p in vehicle.procedures}, (
            vehicle.id
        )
        text = msgspec.json.encode((vehicle.systems, vehicle.procedures)).decode()
        assert all(f'"{name}"' in text or f":{name}" in text for name in vehicle.sensors), vehicle.id


def test_an_estimates_word_means_one_operation() -> None:
    words = [word.casefold() for o in OPERATIONS.values() for word in {*o.synonyms, o.name}]
    assert len(words) == len(set(words))


def test_the_correction_changes_one_distance_and_where_it_is_written() -> None:
    (filed,) = CORRECTIONS
    assert isinstance(filed, Filed)
    assert isinstance(filed.document, VehicleDocument)
    before, after = leaves(VEHICLES[filed.document.id]), leaves(filed.document)
    changed = {path for path in before.keys() | after.keys() if before.get(path) != after.get(path)}
    distances = {path for path in changed if path.endswith("_mm")}
    assert len(distances) == 1
    assert all("/source/" in path for path in changed - distances)


def leaves(value: Any, path: str = "") -> dict[str, Any]:
    """Return every leaf of a document by its path."""
    value = msgspec.to_builtins(value)
    if not isinstance(value, dict | list | tuple):
        return {path: value}
    parts = value.items() if isinstance(value, dict) else enumerate(value)
    return {where: leaf for key, part in parts for where, leaf in leaves(part, f"{path}/{key}").items()}


def test_the_readme_says_of_every_vehicle_what_only_it_shows() -> None:
    rows = re.findall(r"^\| `([a-z0-9-]+)` \| (.+) \|$", (FOLDER / "README.md").read_text(), re.MULTILINE)
    shows = {name: text for name, text in rows if name in VEHICLES}
    assert set(shows) == set(VEHICLES)
    assert len(set(shows.values())) == len(VEHICLES)


def signature(vehicle: VehicleDocument) -> frozenset[Any]:
    """Return what a vehicle asks for, without its figures."""
    procedures = {procedure.id: procedure for procedure in vehicle.procedures}
    return frozenset(
        (
            tuple(sorted(option.choice or "" for option in vehicle.options)),
            system.kind,
            system.fitted_when is not None,
            tuple(
                (procedures[name].method, frozenset(sentences_of(procedures[name])))
                for way in requirement.alternatives
                for name in way.procedures
            ),
        )
        for system in vehicle.systems
        for requirement in system.requirements
    )


def sentences_of(procedure: Procedure) -> Iterator[tuple[str, str, str, bool]]:
    """Yield each placement of a procedure as its datums, without its figures."""
    for stage in procedure.stages:
        for item in stage.placements:
            sentence = item.placement
            datums = sentence.aim_line, sentence.along.datum, sentence.lateral.datum
            yield *datums, item.range is not None


def test_no_two_vehicles_ask_for_the_same() -> None:
    seen: dict[frozenset[Any], str] = {}
    for vehicle in VEHICLES.values():
        twin = seen.setdefault(signature(vehicle), vehicle.id)
        assert twin == vehicle.id


def test_neighbours_of_one_model_and_year_can_be_told_apart() -> None:
    for one, other in combinations(VEHICLES.values(), 2):
        same_name = (one.make, one.model, one.drive_side) == (other.make, other.model, other.drive_side)
        first, last = (
            max(one.model_year_first, other.model_year_first),
            [one.model_year_last, other.model_year_last],
        )
        if same_name and first <= min(year or 2100 for year in last):
            traits = {trait.trait: trait.value for trait in one.traits}
            assert any(traits.get(t.trait, t.value) != t.value for t in other.traits), (one.id, other.id)


def vehicles_with(test: Callable[[VehicleDocument], object]) -> list[str]:
    return [vehicle.id for vehicle in VEHICLES.values() if test(vehicle)]


def alternatives_of(vehicle: VehicleDocument) -> list[list[list[str]]]:
    """Return, by requirement, the methods of each alternative."""
    methods = {procedure.id: procedure.method for procedure in vehicle.procedures}
    requirements = [requirement for system in vehicle.systems for requirement in system.requirements]
    return [[[methods[name] for name in way.procedures] for way in r.alternatives] for r in requirements]


def interruptions_of(vehicle: VehicleDocument) -> set[str]:
    return {procedure.drive.interruption for procedure in vehicle.procedures if procedure.drive}


SHOWN: dict[str, Callable[[VehicleDocument], object]] = {
    "static or dynamic": lambda v: [["static"], ["dynamic"]] in alternatives_of(v),
    "static with a dynamic follow-up": lambda v: [["static", "dynamic"]] in alternatives_of(v),
    "several stages": lambda v: any(len(p.stages) > 1 for p in v.procedures),
    "a range of distance": lambda v: '"range"' in msgspec.json.encode(v).decode(),
    "thrust-line aiming": lambda v: '"thrust_line"' in msgspec.json.encode(v).decode(),
    "sensors that look sideways and back": lambda v: any(
        90 < abs(s.yaw_deg) < 180 for s in v.sensors.values()
    ),
    "optional equipment": lambda v: any(s.fitted_when for s in v.systems),
    "a choice of windscreens": lambda v: sum(o.choice == "windscreen" for o in v.options) > 1,
    "build codes": lambda v: v.build_codes,
    "a VIN that states options": lambda v: (
        any(e.fitted for e in v.vin_patterns) and any(e.absent for e in v.vin_patterns)
    ),
    "procedures in order": lambda v: any(p.after_procedures for p in v.procedures),
    "alignment first": lambda v: any("wheel_alignment" in p.after_steps for p in v.procedures),
    "a cure wait first": lambda v: any("adhesive_cure" in p.after_steps for p in v.procedures),
    "a system without a rule": lambda v: any(not s.disturbances and s.requirements for s in v.systems),
    "an unchecked requirement": lambda v: any(
        r.source.checked_on is None for s in v.systems for r in s.requirements
    ),
    "a changed car allowed": lambda v: any(r.answer == "allowed" for r in v.changed_car),
    "a changed car to be referred": lambda v: any(r.answer == "refer_to_maker" for r in v.changed_car),
    "a heavy vehicle": lambda v: not v.light_vehicle,
    "stated uncertainties": lambda v: v.standard_uncertainty,
    "no stated uncertainties": lambda v: not v.standard_uncertainty,
    "a thrust limit": lambda v: v.thrust_limit_deg,
    "an allowed aim error": lambda v: any(p.aim_allowance for p in v.procedures),
    "a clear zone": lambda v: '"clear_zone"' in msgspec.json.encode(v).decode(),
    "a walking margin": lambda v: any(stage.walking_margin_mm for p in v.procedures for stage in p.stages),
    "a fixture on a carrier": lambda v: '"carrier"' in msgspec.json.encode(v).decode(),
    "a conditional rule": lambda v: any(d.effect == "conditional" for s in v.systems for d in s.disturbances),
    "a rule that says no": lambda v: any(
        d.effect == "not_called_for" for s in v.systems for d in s.disturbances
    ),
    "no fixture at all": lambda v: v.procedures and not any(p.stages or p.drive for p in v.procedures),
    "a reading that feeds the setup": lambda v: any(i.feeds for p in v.procedures for i in p.preparation),
    "a drive that resumes": lambda v: "resumes" in interruptions_of(v),
    "a drive that restarts": lambda v: "restarts" in interruptions_of(v),
    "a drive whose result expires": lambda v: "expires_at_ignition_off" in interruptions_of(v),
}


@pytest.mark.parametrize("what", SHOWN)
def test_together_the_vehicles_show(what: str) -> None:
    assert vehicles_with(SHOWN[what])


def test_there_is_every_kind_of_system() -> None:
    assert {system.kind for vehicle in VEHICLES.values() for system in vehicle.systems} == set(SYSTEM_KINDS)


def test_one_placement_needs_a_dimension_that_nobody_has_given() -> None:
    known = {standing.vehicle.id for standing in STANDING}
    missing = {vehicle.id for vehicle, _, _ in every_placement()} - known
    assert [VEHICLES[name].dimensions.front_overhang_mm for name in missing] == [None]


def test_some_reflectors_match_by_property_alone_and_one_is_unknown() -> None:
    """Triangular trihedral 4πa⁴/(3λ²), square 12πa⁴/λ² (ESA STEP forum, topic 14333; Skolnik's summary)."""
    (need,) = (item.need for _, _, item in every_placement() if not item.need.named)
    assert need.radar is not None
    assert need.radar.max_rcs_dbsm is not None
    wavelength_m = 299_792_458 / (need.radar.frequency_ghz * 1e9)
    factor = {"trihedral_triangular": 4 * pi / 3, "trihedral_square": 12 * pi}
    rcs_dbsm = {
        fixture.id: 10
        * log10(factor[fixture.reflector.shape] * (fixture.reflector.leg_mm / 1000) ** 4 / wavelength_m**2)
        for fixture in FIXTURES.values()
        if fixture.reflector and fixture.reflector.leg_mm
    }
    meets = {
        name
        for name, value in rcs_dbsm.items()
        if need.radar.min_rcs_dbsm <= value <= need.radar.max_rcs_dbsm
    }
    assert {name for name in meets if not FIXTURES[name].capabilities} == {
        "reflector-trihedral-200",
        "reflector-square-80",
    }
    assert not any(
        need.capability == c.capability for fixture in FIXTURES.values() for c in fixture.capabilities
    )
    assert FIXTURES["reflector-unmarked"].reflector is None
