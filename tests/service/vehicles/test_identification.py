"""Which car is it? Asked through the SDK as a technician would, who sees the car and answers truthfully."""

import csv
import itertools
from collections.abc import Iterator
from fnmatch import fnmatchcase
from pathlib import Path
from typing import NamedTuple

import pytest

from running import Service
from service.catalogue.demo import EXAMPLE_VINS, VEHICLES
from snapline import Snapline
from snapline.wire.catalogue import VehicleDocument
from snapline.wire.vehicles import CANNOT_TELL, Identification, IdentifyRequest
from snapline_service.vehicles.vin import check_digit

HEAVY = "fennhaul-stokerran-2020-us"
PICKUP_BY_VIN, PICKUP_BY_CODE = "jorvantel-mesquin-2021-us", "jorvantel-mesquin-2024-us"
GLASS = "quellovane-sablune-2020-eu"
every_vehicle = pytest.mark.parametrize("name", VEHICLES)

with (Path(__file__).parent / "vin_cases.csv").open(newline="") as table:
    KNOWN_TO_VPIC = [
        (case["vin"], int(case["model_year_vpic_vin_0_6_2"]))
        for case in csv.DictReader(table)
        if case["model_year_vpic_vin_0_6_2"] and case["vin"][0] in "12345"
    ]


@pytest.fixture(scope="module")
def client(demo_service: tuple[Service, str]) -> Iterator[Snapline]:
    """An SDK client, opened once for the many calls of a module."""
    service, key = demo_service
    with Snapline(service.url, key) as client:
        yield client


class Car(NamedTuple):
    """One car on the hoist: a catalogue entry, what is fitted to it, where and when it was built."""

    document: VehicleDocument
    fitted: frozenset[str]
    market: str
    model_year: int

    def answer(self, question: str) -> str:
        """Answer as one who looks at the car would; what the document does not say cannot be seen."""
        kind, _, name = question.partition(":")
        if kind == "trait":
            return {trait.trait: trait.value for trait in self.document.traits}.get(name, CANNOT_TELL)
        if kind == "option":
            return "yes" if name in self.fitted else "no"
        if kind == "choice":
            members = {option.id for option in self.document.options if option.choice == name}
            return next(iter(members & self.fitted), CANNOT_TELL)
        return str(getattr(self, kind, None) or getattr(self.document, kind))


def cars_of(document: VehicleDocument) -> Iterator[Car]:
    """Yield a car for every combination of equipment that the entry and its example VIN allow."""
    vin = EXAMPLE_VINS[document.id]
    stated = [p for p in document.vin_patterns if fnmatchcase(vin, p.pattern)]
    always = {o.id for o in document.options if o.availability == "standard"} | {
        n for p in stated for n in p.fitted
    }
    never = {name for pattern in stated for name in pattern.absent}
    free = [o.id for o in document.options if not o.choice and o.id not in always | never]
    choices = {o.choice for o in document.options if o.choice}
    ways = [[o.id for o in document.options if o.choice == choice] for choice in sorted(choices)]
    switches = itertools.product([False, True], repeat=len(free))
    for switch, members in itertools.product(switches, itertools.product(*ways)):
        fitted = always | {name for name, on in zip(free, switch, strict=True) if on} | set(members)
        yield Car(document, frozenset(fitted), document.markets[-1], model_year_of(document, vin))


def model_year_of(document: VehicleDocument, vin: str) -> int:
    """Return the year that a North American VIN states (49 CFR 565.15, table VII), else the entry's last."""
    code = "ABCDEFGHJKLMNPRSTVWXY".index(vin[9]) if vin[0] in "12345" else None
    return document.model_year_last or 2026 if code is None else 2010 + code


def ids(found: Identification) -> set[str]:
    return {candidate.vehicle.id for candidate in found.candidates}


def by_pattern(vin: str) -> set[str]:
    """Return the entries whose patterns match, by the shell's own pattern language."""
    return {
        vehicle.id
        for vehicle in VEHICLES.values()
        if any(fnmatchcase(vin, pattern.pattern) for pattern in vehicle.vin_patterns)
    }


def with_check_digit(vin: str) -> str:
    return vin[:8] + check_digit(vin) + vin[9:]


# --- which vehicle ---------------------------------------------------------------------------------------


@every_vehicle
def test_an_example_vin_leads_to_its_own_vehicle_or_the_group_that_it_cannot_separate(
    client: Snapline, name: str
) -> None:
    found = client.vehicles.identify(vin=EXAMPLE_VINS[name])
    assert name in ids(found)
    assert ids(found) == by_pattern(EXAMPLE_VINS[name])
    assert found.candidates_total == len(found.candidates)
    if len(found.candidates) > 1:
        assert found.method == "exact"
        assert {question.decides for question in found.questions} == {"vehicle"}


@every_vehicle
def test_truthful_answers_lead_from_the_vin_to_exactly_that_vehicle(client: Snapline, name: str) -> None:
    for car in cars_of(VEHICLES[name]):
        request = IdentifyRequest(vin=EXAMPLE_VINS[name])
        assert follow(client, car, request) == {name}


@every_vehicle
def test_truthful_answers_lead_from_the_make_to_that_vehicle(client: Snapline, name: str) -> None:
    car = next(cars_of(VEHICLES[name]))
    left = follow(client, car, IdentifyRequest(make=VEHICLES[name].make.upper()))
    assert left == {name}


def follow(client: Snapline, car: Car, request: IdentifyRequest) -> set[str]:
    """Answer one question after the other, the first that is asked each time, and return who is left."""
    answers: dict[str, str] = {}
    for _ in range(20):
        found = client.vehicles.identify(
            vin=request.vin, make=request.make, build_codes=request.build_codes, answers=answers
        )
        assert car.document.id in ids(found), answers
        open_questions = [question for question in found.questions if question.id not in answers]
        assert open_questions == list(found.questions)  # nothing is asked twice
        if not open_questions:
            break
        asked = open_questions[0]
        assert asked.how_to_see
        answers[asked.id] = car.answer(asked.id)
        assert answers[asked.id] in asked.answers
    fitted = next(c for c in found.candidates if c.vehicle.id == car.document.id)
    for option in fitted.options:
        assert option.fitted in ("unknown", "yes" if option.id in car.fitted else "no")
    assert all(system.fitted != "unknown" for system in fitted.systems)
    return ids(found)


@every_vehicle
def test_no_truthful_answer_excludes_the_right_vehicle(client: Snapline, name: str) -> None:
    document = VEHICLES[name]
    everything = ["drive_side", "body", "market", "model_year"]
    for other in VEHICLES.values():
        everything += [f"trait:{trait.trait}" for trait in other.traits]
        everything += [f"choice:{o.choice}" if o.choice else f"option:{o.id}" for o in other.options]
    for car in cars_of(document):
        answers = {question: car.answer(question) for question in everything}
        for known in ({"vin": EXAMPLE_VINS[name]}, {"make": document.make}):
            assert name in ids(client.vehicles.identify(answers=answers, **known))  # type: ignore[arg-type]


@every_vehicle
def test_cannot_tell_keeps_every_candidate_and_is_not_asked_again(client: Snapline, name: str) -> None:
    first = client.vehicles.identify(vin=EXAMPLE_VINS[name])
    answers: dict[str, str] = {}
    found = first
    while found.questions:
        answers |= {question.id: CANNOT_TELL for question in found.questions}
        found = client.vehicles.identify(vin=EXAMPLE_VINS[name], answers=answers)
        assert ids(found) == ids(first)
        assert not {question.id for question in found.questions} & answers.keys()
    if len(first.candidates) > 1:
        assert {member for group in found.inseparable for member in group} <= ids(first)
        assert any(name in group for group in found.inseparable)


def test_an_answer_that_nobody_could_give_leaves_nobody_and_says_so(client: Snapline) -> None:
    found = client.vehicles.identify(make="Quellovane", answers={"body": "submarine"})
    assert found.candidates == ()
    assert any("body = submarine" in note for note in found.notes)


def test_an_answer_to_another_question_is_named_and_changes_nothing(client: Snapline) -> None:
    found = client.vehicles.identify(
        vin=EXAMPLE_VINS[GLASS], answers={"trait:wings": "two", "option:wings": "yes"}
    )
    assert ids(found) == {GLASS}
    assert [note for note in found.notes if "trait:wings" in note]
    assert [note for note in found.notes if "option:wings" in note]


@pytest.mark.parametrize(
    ("known", "left"),
    [
        ({"make": "quellovane", "model": "LIRRA", "market": "GB"}, {"quellovane-lirra-2020-gb"}),
        ({"make": "Quellovane", "model": "Lirra", "drive_side": "right"}, {"quellovane-lirra-2020-gb"}),
        ({"make": "Quellovane", "model": "Lirra", "model_year": 2017}, {"quellovane-lirra-2016-eu"}),
        ({"make": "Quellovane", "model": "Lirra", "model_year": 2015}, set()),
        ({"make": "Kadoruma", "market": "NZ"}, {"kadoruma-arvolen-2022-au", "kadoruma-numira-2024-nz"}),
        ({"make": "Kadoruma", "market": "NZ", "model_year": 2023}, {"kadoruma-arvolen-2022-au"}),
        ({"vin": EXAMPLE_VINS[GLASS], "make": "Mirandeux"}, set()),
        ({"vin": EXAMPLE_VINS[GLASS], "model_year": 2019}, set()),
    ],
)
def test_every_known_fact_narrows(client: Snapline, known: dict[str, object], left: set[str]) -> None:
    found = client.vehicles.identify(**known)  # type: ignore[arg-type]
    assert ids(found) == left
    assert bool(left) or any(note.startswith("No vehicle agrees with") for note in found.notes)


def test_the_answer_quotes_the_sources_of_every_candidate(client: Snapline) -> None:
    found = client.vehicles.identify(make="Quellovane")
    quoted = {source.id for source in found.sources}
    assert len(found.candidates) == 7
    for name in ids(found):
        assert {source.id for source in client.vehicles.get(name).sources} <= quoted
    assert {caution.code for caution in found.cautions} == {"MAKER_GOVERNS", "FUNCTIONS_MAY_FAIL"}
    assert found.catalogue_revision == 2


@pytest.mark.parametrize(
    ("known", "advice"),
    [
        ({"make": "Quelovane"}, "make 'Quelovane'. Did you mean 'quellovane'?"),
        ({"make": "Quellovane", "model": "Lira"}, "model 'Lira'. Did you mean 'lirra'?"),
        ({"make": "Zzzz"}, "Known here: brennhavik, fennhaul,"),
    ],
)
def test_an_unknown_make_or_model_is_named_with_the_nearest(
    client: Snapline, known: dict[str, str], advice: str
) -> None:
    found = client.vehicles.identify(**known)  # type: ignore[arg-type]
    assert found.candidates == ()
    assert any(advice in note for note in found.notes)


# --- what is fitted --------------------------------------------------------------------------------------


def fitted(found: Identification, name: str) -> dict[str, tuple[str, str]]:
    (candidate,) = (c for c in found.candidates if c.vehicle.id == name)
    return {item.id: (item.fitted, item.because) for item in (*candidate.options, *candidate.systems)}


@pytest.mark.parametrize(("sixth", "stated"), [("R", "yes"), ("N", "no")])
def test_a_vin_states_equipment(client: Snapline, sixth: str, stated: str) -> None:
    vin = EXAMPLE_VINS[PICKUP_BY_VIN]
    found = client.vehicles.identify(vin=with_check_digit(vin[:5] + sixth + vin[6:]))
    known = fitted(found, PICKUP_BY_VIN)
    assert known["distance_radar"] == (stated, "The VIN says so.")
    radar = next(s for s in VEHICLES[PICKUP_BY_VIN].systems if s.kind == "forward_radar")
    assert known[radar.id][0] == stated
    assert found.questions == ()
    assert found.notes == ()


@pytest.mark.parametrize(
    ("codes", "radar", "corners"),
    [
        ((), "unknown", "unknown"),
        (("K59",), "yes", "unknown"),
        (("K60",), "no", "unknown"),
        (("UVB", "K60"), "no", "yes"),
        (("XL9",), "yes", "yes"),
    ],
)
def test_build_codes_state_equipment(
    client: Snapline, codes: tuple[str, ...], radar: str, corners: str
) -> None:
    found = client.vehicles.identify(vin=EXAMPLE_VINS[PICKUP_BY_CODE], build_codes=codes)
    known = fitted(found, PICKUP_BY_CODE)
    assert (known["distance_radar"][0], known["corner_radars"][0]) == (radar, corners)
    if "XL9" in codes:
        assert known["corner_radars"][1] == "Build code XL9 says so."
    # What is not known and decides about something is asked for; what is known is not.
    asked = {question.id for question in found.questions}
    assert ("option:distance_radar" in asked, "option:corner_radars" in asked) == (
        radar == "unknown",
        corners == "unknown",
    )
    assert all(question.decides == "equipment" for question in found.questions)


def test_build_codes_that_contradict_each_other_are_said(client: Snapline) -> None:
    found = client.vehicles.identify(vin=EXAMPLE_VINS[PICKUP_BY_CODE], build_codes=["K59", "K60"])
    assert any("contradict" in note and "'distance_radar'" in note for note in found.notes)
    assert found.candidates == ()


def test_an_answer_against_a_build_code_leaves_nobody(client: Snapline) -> None:
    answers = {"option:distance_radar": "no"}
    found = client.vehicles.identify(vin=EXAMPLE_VINS[PICKUP_BY_CODE], build_codes=["K59"], answers=answers)
    assert found.candidates == ()
    assert any("option:distance_radar = no" in note for note in found.notes)


def test_an_unknown_build_code_is_named_and_the_others_count(client: Snapline) -> None:
    found = client.vehicles.identify(vin=EXAMPLE_VINS[PICKUP_BY_CODE], build_codes=["K59", "QQ7", "QQ8"])
    assert "No candidate knows these build codes: QQ7, QQ8." in found.notes
    assert fitted(found, PICKUP_BY_CODE)["distance_radar"][0] == "yes"


def test_exactly_one_windscreen_is_fitted(client: Snapline) -> None:
    vin = EXAMPLE_VINS[GLASS]
    (question,) = client.vehicles.identify(vin=vin).questions
    glasses = {o.id for o in VEHICLES[GLASS].options if o.choice == "windscreen"}
    assert question.id == "choice:windscreen"
    assert set(question.answers) == glasses | {CANNOT_TELL}
    for glass in glasses:
        found = client.vehicles.identify(vin=vin, answers={"choice:windscreen": glass})
        known = fitted(found, GLASS)
        assert {name for name in glasses if known[name][0] == "yes"} == {glass}
        assert {name for name in glasses if known[name][0] == "no"} == glasses - {glass}
        assert found.questions == ()
    unknown = fitted(client.vehicles.identify(vin=vin, answers={"choice:windscreen": CANNOT_TELL}), GLASS)
    assert {unknown[name][0] for name in glasses} == {"unknown"}


def test_standard_equipment_is_not_asked_about(client: Snapline) -> None:
    name = "mirandeux-aurelle-2024-eu"
    found = client.vehicles.identify(vin=EXAMPLE_VINS[name])
    assert fitted(found, name)["driver_camera"] == ("yes", "It is standard on this vehicle.")
    assert [question.id for question in found.questions] == ["option:head_up_display"]


# --- what the VIN itself says ----------------------------------------------------------------------------


def test_a_check_digit_that_does_not_match_is_doubted_and_still_answered(client: Snapline) -> None:
    vin = EXAMPLE_VINS[PICKUP_BY_VIN]
    wrong = vin[:8] + ("1" if vin[8] != "1" else "2") + vin[9:]
    found = client.vehicles.identify(vin=wrong)
    assert found.vin
    assert (found.vin.check_digit, found.vin.expected_check_digit) == ("does_not_match", vin[8])
    assert any(f"position 9 should be {vin[8]}" in note for note in found.notes)
    assert ids(found) == {PICKUP_BY_VIN}


@pytest.mark.parametrize("name", [name for name, vin in EXAMPLE_VINS.items() if vin[0] == "S"])
def test_the_check_digit_is_no_rule_in_europe(client: Snapline, name: str) -> None:
    vin = EXAMPLE_VINS[name]
    for last in "01":  # the rule could be met by one of the two at most
        found = client.vehicles.identify(vin=vin[:-1] + last)
        assert found.vin
        assert (found.vin.region, found.vin.check_digit, found.vin.expected_check_digit) == (
            "europe",
            "not_applicable",
            None,
        )
        assert name in ids(found)
        assert not any("position 9" in note for note in found.notes)


def test_a_heavy_vehicle_keeps_both_model_years(client: Snapline) -> None:
    # 49 CFR 565.15(b) tells the thirty-year cycles apart by position 7 for light vehicles alone.
    found = client.vehicles.identify(vin=EXAMPLE_VINS[HEAVY])
    assert found.vin
    assert EXAMPLE_VINS[HEAVY][9] == "M"
    assert found.vin.model_years == (1991, 2021)
    assert ids(found) == {HEAVY}
    light = client.vehicles.identify(vin=EXAMPLE_VINS[PICKUP_BY_VIN])
    assert light.vin
    assert (EXAMPLE_VINS[PICKUP_BY_VIN][9], light.vin.model_years) == ("N", (2022,))


def test_a_north_american_year_outside_the_entry_leaves_nobody(client: Snapline) -> None:
    vin = EXAMPLE_VINS["jorvantel-rhedgarn-2023-us"]
    assert vin[9] == "P"  # 2023; the letter L would be 2020, which the pattern does not allow
    other = client.vehicles.identify(vin=with_check_digit(vin[:9] + "L" + vin[10:]))
    assert other.candidates == ()
    assert any("pattern" in note for note in other.notes)


@pytest.mark.parametrize(("vin", "year"), KNOWN_TO_VPIC)
def test_a_real_north_american_vin_gives_a_hint_and_no_candidate(
    client: Snapline, vin: str, year: int
) -> None:
    found = client.vehicles.identify(vin=vin)
    assert found.vin
    assert found.vin.maker_hint
    assert found.vin.maker_hint.make
    assert found.vin.maker_hint.model_year == year
    assert found.candidates == ()
    assert "No vehicle of the catalogue has a pattern that this VIN matches." in found.notes


def test_lower_case_spaces_and_hyphens_are_how_people_write_a_vin(client: Snapline) -> None:
    vin = EXAMPLE_VINS[GLASS]
    for written in (vin.lower(), f" {vin[:3]} {vin[3:9]} {vin[9:]} ", f"{vin[:3]}-{vin[3:9]}-{vin[9:]}"):
        assert ids(client.vehicles.identify(vin=written)) == {GLASS}
