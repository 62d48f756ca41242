"""Files with faults: every one is told at once, with file, line, field and a mend; nothing is written."""

import copy
import json
from pathlib import Path
from typing import Any

import pytest

from service import small
from service.shop import Shop
from service.small import Document
from snapline_service.catalogue.files import FileFault
from snapline_service.drafts.actions import check_files
from snapline_service.errors import Conflict, InvalidValue

GONE = object()
BOARD = "/procedures/0/stages/0/placements/0"
STAGE = small.vehicle()["procedures"][0]["stages"][0]


def steps(pointer: str) -> list[str | int]:
    plain = (step.replace("~1", "/").replace("~0", "~") for step in pointer.split("/")[1:])
    return [int(step) if step.isdigit() else step for step in plain]


def put(document: Document, pointer: str, value: Any) -> Document:
    """Return a copy of a document with another value at a pointer, or none."""
    changed: Any = copy.deepcopy(document)
    *way, last = steps(pointer)
    place = changed
    for step in way:
        place = place[step]
    if value is GONE:
        del place[last]
    elif isinstance(place, list) and last == len(place):
        place.append(value)
    else:
        place[last] = value
    spoilt: Document = changed
    return spoilt


def line_of(document: Document, pointer: str) -> int:
    """Return the line where a pointer's value, or what is round it, begins in ``small.write``'s files.

    A mark is put there and looked for, so this owes nothing to the code under test.
    """
    while pointer:
        try:
            get(document, pointer)
        except (KeyError, IndexError, TypeError):
            pointer = pointer.rpartition("/")[0]
        else:
            lines = json.dumps(put(document, pointer, "@here@"), indent=1).splitlines()
            return 1 + next(number for number, line in enumerate(lines) if "@here@" in line)
    return 1


def get(document: Document, pointer: str) -> Any:
    value: Any = document
    for step in steps(pointer):
        value = value[step]
    return value


# Where a car is changed, to what, where the fault must be, and words of the detail and of the mend.
VEHICLE_FAULTS = {
    "unknown field": ("/modle", "x", "/modle", "not known", "'model'"),
    "unknown field deep down": (f"{BOARD}/placement/along/datm", "x", None, "not known", "'datum'"),
    "unknown field of a sensor": ("/sensors/front_camera/x", 1, None, "not known", "x_mm"),
    "field with a slash": ("/systems/0/a~1b", 1, None, "not known", ""),
    "text for a number": ("/dimensions/wheelbase_mm", "2600", None, "wrong type", "number"),
    "text for a list": ("/markets", "EU", None, "wrong type", "array"),
    "number for text": ("/make", 7, None, "wrong type", "string"),
    "null for text": ("/make", None, None, "wrong type", "string"),
    "text for a truth": ("/invented", "yes", None, "wrong type", "boolean"),
    "list for an object": ("/dimensions", [], None, "wrong type", "object"),
    "missing field": ("/make", GONE, None, "'make' is missing", "Add 'make'"),
    "missing field deep down": ("/systems/0/requirements/0/source", GONE, None, "missing", "Add 'source'"),
    "another format": ("/format", 2, None, "", "1"),
    "unknown word": ("/body", "hatchbak", None, "known words", "'hatchback'"),
    "unknown kind of system": ("/systems/0/kind", "forward_camra", None, "known words", "'forward_camera'"),
    "unknown word in a list": ("/procedures/1/drive/road_classes/0", "moterway", None, "known", "'motorway'"),
    "nothing like a known word": ("/drive_side", "zzzz", None, "known words", "left, right"),
    "negative size": ("/dimensions/wheelbase_mm", -5, None, "too small", "more than 0"),
    "beyond a kilometre": ("/dimensions/wheelbase_mm", 2e6, None, "too large", "1,000,000"),
    "beyond any number": ("/procedures/0/preparation/0/maximum", 10**400, None, "too large", "at most"),
    "nobody to do it": ("/procedures/1/people", 0, None, "too small", "at least 1"),
    "half a person": ("/procedures/1/people", 1.5, None, "wrong type", "integer"),
    "market in lower case": ("/markets/0", "eu", None, "expected form", "capital letters"),
    "no market": ("/markets", [], None, "too few", "at least 1"),
    "empty text": ("/make", "", None, "too short", "at least 1"),
    "too long a text": ("/make", "x" * 121, None, "too long", "at most 120"),
    "name with a line break": ("/options/0/id", "camera\n", None, "expected form", ""),
    "sensor with a blank": ("/sensors/a b", {"x_mm": 0, "y_mm": 0, "z_mm": 0}, "/sensors", "name", ""),
    "stage without a placement": ("/procedures/0/stages/0/placements", [], None, "too few", "at least 1"),
    "unknown source of a rule": (
        "/systems/0/disturbances/0/source/source", "manul", None, "no source 'manul'", "'manual'"),
    "unknown source of a requirement": (
        "/systems/0/requirements/0/source/source", "manul", None, "no source", "'manual'"),
    "unknown source of a procedure": ("/procedures/1/source/source", "manul", None, "no source", "'manual'"),
    "unknown source of a preparation": (
        "/procedures/0/preparation/1/source/source", "manul", None, "no source", "'manual'"),
    "unknown source of a changed car": (
        "/changed_car/0/source/source", "manul", None, "no source", "'manual'"),
    "unknown operation": (
        "/systems/0/disturbances/0/operation", "windscren", None, "no operation", "'windscreen'"),
    "extent that the operation lacks": (
        "/systems/0/disturbances/0/extent", "refinished", None, "no extent", "replaced"),
    "unknown requirement": ("/systems/0/disturbances/0/requirement", "aimm", None, "no requirement", "'aim'"),
    "unknown procedure": (
        "/systems/0/requirements/0/alternatives/0/procedures/1", "driv", None, "no procedure", "'drive'"),
    "unknown procedure to wait for": (
        "/procedures/1/after_procedures/0", "bord", None, "no procedure", "'board'"),
    "unknown option of a system": (
        "/systems/0/fitted_when/all_of/0", "camra", None, "no option", "'camera'"),
    "unknown option of a requirement": (
        "/systems/0/requirements/0/when/any_of/0", "camra", None, "no option", "'camera'"),
    "unknown option in an exception": (
        "/systems/0/fitted_when", {"none_of": ["camra"]}, "/systems/0/fitted_when/none_of/0",
        "no option", "'camera'"),
    "unknown option of a VIN pattern": ("/vin_patterns/0/fitted/0", "camra", None, "no option", "'camera'"),
    "unknown option absent by a VIN pattern": (
        "/vin_patterns/0/absent", ["camra"], "/vin_patterns/0/absent/0", "no option", "'camera'"),
    "unknown option of a build code": ("/build_codes/0/fitted/0", "camra", None, "no option", "'camera'"),
    "unknown sensor of a system": ("/systems/0/sensors/0", "front_camra", None, "no sensor", "front_camera"),
    "unknown sensor of an allowance": (
        "/procedures/0/aim_allowance/sensor", "camera", None, "no sensor", "front_camera"),
    "unknown sensor to aim along": (f"{BOARD}/placement/aim_line", "sensor:x", None, "sensor", ""),
    "unknown sensor for a height": (f"{BOARD}/placement/height/datum", "sensor:x", None, "sensor", ""),
    "unknown fixture": (f"{BOARD}/need/named/0", "bord", None, "no fixture", "'board'"),
    "unknown fixture to carry it": (
        f"{BOARD}/carrier", {"capability": "x", "named": ["bord"]}, f"{BOARD}/carrier/named/0",
        "no fixture", "'board'"),
    "unknown system of a changed car": ("/changed_car/0/systems/0", "camra", None, "no system", "'camera'"),
    "uncertainty of no input": (
        "/standard_uncertainty", {"vehicle.wheelbse_mm": 1}, "/standard_uncertainty/vehicle.wheelbse_mm",
        "not an input", "vehicle.wheelbase_mm"),
    "reading that feeds no input": (
        "/procedures/0/preparation/1/feeds", "vehicle.thrust_deg", None, "not an input", "thrust_yaw_deg"),
    "ring of procedures": (
        "/procedures/0/after_procedures", ["drive"], "/procedures", "board", "ring"),
    "procedure that waits for itself": (
        "/procedures/0/after_procedures", ["board"], "/procedures", "board", "ring"),
    "distance below its range": (f"{BOARD}/range/min_mm", 2401, f"{BOARD}/range", "outside", "Correct"),
    "distance above its range": (f"{BOARD}/range/max_mm", 2399, f"{BOARD}/range", "outside", "Correct"),
    "radar limits exchanged": (
        f"{BOARD}/need/radar", {"frequency_ghz": 77, "min_rcs_dbsm": 20, "max_rcs_dbsm": 10},
        f"{BOARD}/need/radar/max_rcs_dbsm", "below the smallest", "Exchange"),
    "VIN pattern with a letter that no VIN has": (
        "/vin_patterns/0/pattern", "S7AI?????????????", None, "Position 4", "not I, O, Q"),
    "VIN pattern in lower case": (
        "/vin_patterns/0/pattern", "s7a??????????????", None, "Position 1", "capital"),
    "VIN pattern of eighteen": (
        "/vin_patterns/0/pattern", "S7A???????????????", None, "18 positions", "17"),
    "VIN pattern of sixteen": ("/vin_patterns/0/pattern", "S7A?????????????", None, "too short", "17"),
    "VIN pattern with an open set": (
        "/vin_patterns/0/pattern", "S7A[AB???????????????", None, "Position 4", ""),
    "condition without a question": (
        "/systems/0/disturbances/1/question", GONE, None, "does not say what decides", "question"),
    "static without stages": ("/procedures/0/stages", GONE, None, "needs 'stages'", "Add"),
    "static with a drive": (
        "/procedures/0/drive", small.vehicle()["procedures"][1]["drive"], None, "has no 'drive'", "Remove"),
    "drive without conditions": ("/procedures/1/drive", GONE, None, "needs 'drive'", "Add"),
    "speeds exchanged": (
        "/procedures/1/drive/speed_min_kmh", 120, None, "not below the highest", "Exchange"),
    "limit without a limit": (
        "/procedures/0/preparation/0/maximum", GONE, "/procedures/0/preparation/0/minimum", "neither", ""),
    "years exchanged": ("/model_year_last", 2019, None, "before the first", "Exchange"),
    "option twice": ("/options/1", small.vehicle()["options"][0], "/options/1/id", "twice", "another name"),
    "system twice": (
        "/systems/1", {"id": "camera", "kind": "rear_view_camera", "name": "B"}, "/systems/1/id",
        "twice", "another name"),
    "procedure twice": (
        "/procedures/2", small.vehicle()["procedures"][1], "/procedures/2/id", "twice", "another name"),
    "stage twice": (
        "/procedures/0/stages/1", {**STAGE, "placements": [{**STAGE["placements"][0], "id": "second"}]},
        "/procedures/0/stages/1/id", "twice", "another name"),
    "alternative twice": (
        "/systems/0/requirements/0/alternatives/1", {"id": "board", "name": "B", "procedures": ["drive"]},
        "/systems/0/requirements/0/alternatives/1/id", "twice", ""),
}  # fmt: skip

FIXTURE_FAULTS = {
    "unknown kind of fixture": ("/fixture_kind", "bord", None, "known words", "'board'"),
    "unknown source": ("/capabilities/0/source/source", "manul", None, "no source", "'manual'"),
    "foot twice": ("/feet/1/name", "left", None, "twice", "another name"),
    "footprint of two corners": ("/footprint", [[0, 0], [1, 1]], None, "too few", "at least 3"),
    "corner with three coordinates": (
        "/footprint", [[0, 0, 0], [1, 1], [2, 0]], "/footprint/0", "too many", "2"),
    "trihedral without its leg": (
        "/reflector", {"shape": "trihedral_triangular"}, "/reflector/leg_mm", "leg_mm", ""),
}  # fmt: skip


def faults_after(folder: Path, change: tuple[Any, ...], kind: str) -> tuple[Document, list[FileFault]]:
    documents = small.catalogue()
    place = next(number for number, document in enumerate(documents) if document["kind"] == kind)
    documents[place] = put(documents[place], change[0], change[1])
    _, faults = check_files(small.write(folder, documents))
    return documents[place], faults


@pytest.mark.parametrize(
    ("kind", "change"),
    [pytest.param("vehicle", change, id=name) for name, change in VEHICLE_FAULTS.items()]
    + [pytest.param("fixture", change, id=f"fixture: {name}") for name, change in FIXTURE_FAULTS.items()],
)
def test_a_single_fault_is_the_only_one_told(folder: Path, kind: str, change: tuple[Any, ...]) -> None:
    spoilt, faults = faults_after(folder, change, kind)
    pointer, detail, mend = change[2] or change[0], change[3], change[4]
    assert [(fault.file.name, fault.field) for fault in faults] == [(f"{spoilt['id']}.json", pointer)]
    assert faults[0].line == line_of(spoilt, pointer)
    assert detail in faults[0].detail
    assert mend in faults[0].mend
    assert faults[0].mend


@pytest.mark.parametrize(("pointer", "value"), [("/procedures/1/people", 2.0), ("/model_year_first", 2020.0)])
def test_a_whole_number_is_one_however_it_is_written(folder: Path, pointer: str, value: float) -> None:
    """JSON Schema 2020-12, section 6.1.1: 1.0 is an integer."""
    _, faults = faults_after(folder, (pointer, value), "vehicle")
    assert faults == []


def test_a_sound_catalogue_has_no_fault(folder: Path) -> None:
    assert check_files(small.write(folder, small.catalogue())) == (5, [])


def test_a_placement_that_stands_in_two_stages_is_named_in_the_second(folder: Path) -> None:
    _, faults = faults_after(folder, ("/procedures/0/stages/1", {**STAGE, "id": "two"}), "vehicle")
    assert [fault.field for fault in faults] == ["/procedures/0/stages/1/placements/0/id"]


@pytest.mark.parametrize(
    ("yaw_deg", "along", "lateral", "field"),
    [
        (90, "sensor:side", "centreline", f"{BOARD}/placement/lateral/datum"),
        (-90, "sensor:side", "centreline", f"{BOARD}/placement/lateral/datum"),
        (90, "front_bumper", "aim_line", f"{BOARD}/placement/along/datum"),
        (88, "rear_axle", "aim_line", f"{BOARD}/placement/along/datum"),
    ],
)
def test_datums_that_do_not_fix_a_point_are_refused(
    folder: Path, yaw_deg: float, along: str, lateral: str, field: str
) -> None:
    """The API's contract: |det| < 0.05, which is 2.9 degrees."""
    car = put(small.vehicle(), "/sensors/side", {"x_mm": 0, "y_mm": 800, "z_mm": 600, "yaw_deg": yaw_deg})
    placement = {
        **get(car, f"{BOARD}/placement"),
        "aim_line": "sensor:side",
        "along": {"datum": along, "distance_mm": 2400},
        "lateral": {"datum": lateral, "distance_mm": 0},
    }
    car = put(car, f"{BOARD}/placement", placement)
    _, faults = check_files(small.write(folder, [*small.catalogue()[:3], car]))
    assert [fault.field for fault in faults] == [field]
    assert faults[0].line == line_of(car, field)


def text_of(document: Document) -> str:
    return json.dumps(document, indent=1)


# Files that cannot be read at all: bytes, the line, and words of the detail.
UNREADABLE = {
    "empty": (b"", 1, "empty"),
    "blank": (b"\n  \n", 3, "truncated"),
    "cut short": (text_of(small.source()).encode()[:-20], 8, "truncated"),
    "comma before the end": (b'{\n"kind": "source",\n"id": "a",\n}', 4, "trailing comma"),
    "comma forgotten": (b'{\n"kind": "source"\n"id": "a"\n}', 3, "malformed"),
    "single quotes": (b"{\n'kind': 'source'}", 2, "malformed"),
    "comment": (b'{\n"kind": "source", // why\n"id": "a"}', 2, "malformed"),
    "two documents": (b"{}\n{}", 2, "malformed"),
    "NaN": (b'{\n"kind": "source",\n"id": NaN}', 3, "invalid character"),
    "Infinity": (b'{\n\n\n"id": -Infinity}', 4, "malformed"),
    "number beyond all": (b'{\n"a": 1,\n"b": 1e999}', 3, "out of range"),
    "control character": (b'{\n"kind": "sou\trce"}', 2, "malformed"),
    "not UTF-8": (b'{\n"kind": "source",\n"id": "\xff\xfe"}', 3, "utf-8"),
    "Latin-1": ('{\n"title": "H\xf6he"}'.encode("latin-1"), 2, "utf-8"),
    "UTF-16": (text_of(small.source()).encode("utf-16"), 1, "malformed"),
    "byte order mark": (b"\xef\xbb\xbf" + text_of(small.source()).encode(), 1, "byte order mark"),
    "deep": (b'{\n"kind":\n' + b"[" * 3000 + b"]" * 3000 + b"}", 3, "nested too deeply"),
    "not quite as deep": (b'{\n"kind": "source", "id":\n' + b"[" * 400 + b"]" * 400 + b"}", 1, "too deeply"),
    "lists without an end": (b"[" * 200_000, 1, "nested too deeply"),
}


@pytest.mark.parametrize("name", UNREADABLE)
def test_an_unreadable_file_is_told_with_its_line(folder: Path, name: str) -> None:
    text, line, detail = UNREADABLE[name]
    small.write(folder, small.catalogue())
    (folder / "odd.json").write_bytes(text)
    _, faults = check_files(folder)
    assert [(fault.file.name, fault.line, fault.field) for fault in faults] == [("odd.json", line, "")]
    assert detail in faults[0].detail
    assert faults[0].mend


@pytest.mark.parametrize(
    "text", ["[]", "5", "null", '"vehicle"', "true", "{}", '{"kind": 5}', '{"kind": []}']
)
def test_what_is_no_document_is_told_which_kinds_there_are(folder: Path, text: str) -> None:
    folder.mkdir()
    (folder / "odd.json").write_text(text)
    _, (fault,) = check_files(folder)
    assert fault.field == "/kind"
    assert "source, operation, fixture, vehicle" in fault.mend


def test_a_field_that_stands_twice_is_found_where_it_stands_again(folder: Path) -> None:
    folder.mkdir()
    text = text_of(small.vehicle()).replace('"edition"', '"title"')
    text = text.replace('"name": "Front camera",\n   "sensors"', '"id": "two",\n   "sensors"')
    (folder / "car.json").write_text(text)
    _, faults = check_files(folder)
    line = 1 + next(number for number, row in enumerate(text.splitlines()) if '"two"' in row)
    assert ("/systems/0/id", line) in [
        (fault.field, fault.line) for fault in faults if "twice" in fault.detail
    ]
    assert "/systems/0/name" in [fault.field for fault in faults], "what else is wrong is told as well"


def test_a_field_that_stands_twice_is_refused_although_both_say_the_same(folder: Path) -> None:
    folder.mkdir()
    text = text_of(small.source()).replace("{", '{\n "kind": "source",', 1)
    (folder / "manual.json").write_text(text)
    _, (fault,) = check_files(folder)
    assert (fault.field, fault.line) == ("/kind", 3)


@pytest.mark.parametrize("levels", [300, 600, 800, 900, 950])
def test_depth_hidden_under_a_field_that_stands_twice_does_no_harm(folder: Path, levels: int) -> None:
    folder.mkdir()
    deep = "[" * levels + "]" * levels
    (folder / "manual.json").write_text(text_of(small.source()).replace("{", f'{{\n "kind": {deep},', 1))
    _, (fault,) = check_files(folder)
    assert "twice" in fault.detail or "nested too deeply" in fault.detail


def test_a_name_in_two_files_is_found_in_the_second(folder: Path) -> None:
    small.write(folder, small.catalogue())
    small.write(folder / "more", [small.vehicle()])
    _, (fault,) = check_files(folder)
    assert fault.file == folder / "more" / "ambrel-2020.json"
    assert (fault.field, fault.line) == ("/id", line_of(small.vehicle(), "/id"))
    assert str(folder / "ambrel-2020.json") in fault.detail


def test_equal_names_of_different_kinds_do_not_disturb_each_other(folder: Path) -> None:
    documents = [*small.catalogue(), small.source("board"), small.operation("manual")]
    folder.mkdir()
    for number, document in enumerate(documents):
        (folder / f"{number}.json").write_text(json.dumps(document))
    assert check_files(folder) == (7, [])


def many_faults(folder: Path) -> set[tuple[str, int, str]]:
    """Write a catalogue with faults of every sort in several files; return file, line and field of each."""
    car, other = small.vehicle(), small.vehicle("brenn-2021")
    changes = {
        "/modle": "x",
        "/body": "hatchbak",
        "/dimensions/wheelbase_mm": "2600",
        "/procedures/1/people": 0,
        "/systems/0/name": GONE,
    }
    for pointer, value in changes.items():
        car = put(car, pointer, value)
    dangling = {
        "/systems/0/disturbances/0/operation": "windscren",
        "/procedures/1/after_procedures/0": "bord",
        f"{BOARD}/need/named/0": "bord",
        f"{BOARD}/range/min_mm": 2401,
        "/vin_patterns/0/pattern": "S7AI?????????????",
        "/systems/0/disturbances/1/question": GONE,
    }
    for pointer, value in dangling.items():
        other = put(other, pointer, value)
    board = put(small.fixture(), "/capabilities/0/source/source", "manul")
    small.write(folder / "deep" / "down", [car])
    small.write(folder, [other, board, small.operation(), small.source()])
    (folder / "broken.json").write_text('{\n"kind": "source",\n"id": "sheets",\n}')
    small.write(folder / "again", [small.operation()])
    expected = {("ambrel-2020.json", line_of(car, field), field) for field in changes}
    fields = {pointer if pointer != f"{BOARD}/range/min_mm" else f"{BOARD}/range" for pointer in dangling}
    expected |= {("brenn-2021.json", line_of(other, field), field) for field in fields}
    expected |= {
        ("board.json", line_of(board, "/capabilities/0/source/source"), "/capabilities/0/source/source"),
        ("broken.json", 4, ""),
        ("windscreen.json", line_of(small.operation(), "/id"), "/id"),
    }
    return expected


def test_many_faults_in_several_files_are_told_at_once(folder: Path) -> None:
    expected = many_faults(folder)
    _, faults = check_files(folder)
    assert {(fault.file.name, fault.line, fault.field) for fault in faults} == expected
    assert len(faults) == len(expected)
    assert all(fault.detail and fault.mend for fault in faults)
    places = [(fault.file, fault.line) for fault in faults]
    assert places == sorted(places), "a person mends file by file, from the top"


@pytest.mark.parametrize("retire_missing", [False, True])
def test_with_any_fault_nothing_is_written(shop: Shop, folder: Path, retire_missing: bool) -> None:
    shop.put(small.catalogue())
    before = shop.rows()
    expected = many_faults(folder)
    faults = shop.faults(folder, retire_missing=retire_missing)
    assert {(fault.file.name, fault.line, fault.field) for fault in faults} == expected
    assert shop.rows() == before


def test_a_fault_that_only_the_base_makes_writes_nothing_either(shop: Shop, folder: Path) -> None:
    """The operation loses an extent that a published vehicle still names."""
    shop.put(small.catalogue())
    before = shop.rows()
    shrunk = {**small.operation(), "extents": ["removed_and_refitted"]}
    faults = shop.faults(small.write(folder, [shrunk]))
    assert {(str(fault.file), fault.field) for fault in faults} == {
        ("published/ambrel-2020.json", "/systems/0/disturbances/0/extent"),
        ("published/brenn-2021.json", "/systems/0/disturbances/0/extent"),
    }
    assert shop.rows() == before


def test_what_refers_to_a_document_with_faults_is_not_at_fault_itself(folder: Path) -> None:
    documents = small.catalogue()
    del documents[0]["title"], documents[1]["name"], documents[2]["name"]
    _, faults = check_files(small.write(folder, documents))
    assert [(fault.file.name, fault.field) for fault in faults] == [
        ("board.json", "/name"),
        ("manual.json", "/title"),
        ("windscreen.json", "/name"),
    ]
    (folder / "manual.json").write_text('{"id": "manual"')
    assert [fault.file.name for fault in check_files(folder)[1]] == [
        "board.json",
        "manual.json",
        "windscreen.json",
    ]


def test_lines_are_numbered_in_a_file_of_many_documents(tmp_path: Path) -> None:
    documents = small.catalogue()
    documents[3]["body"] = "hatchbak"
    documents[4]["changed_car"][0]["systems"] = ["camra"]
    path = small.write_lines(tmp_path / "all.ndjson", documents)
    with path.open("ab") as file:
        file.write(b'\n{"kind": "source", }\r\n  \n' + json.dumps(small.operation()).encode())
    _, faults = check_files(path)
    assert [(fault.file, fault.line, fault.field) for fault in faults] == [
        (path, 4, "/body"),
        (path, 5, "/changed_car/0/systems/0"),
        (path, 7, ""),
        (path, 9, "/id"),
    ]


def test_a_file_of_many_documents_is_as_good_as_a_folder(tmp_path: Path) -> None:
    assert check_files(small.write_lines(tmp_path / "all.ndjson", small.catalogue())) == (5, [])


def test_a_folder_may_hold_both_sorts_of_file_and_others(folder: Path) -> None:
    small.write(folder, small.catalogue()[:3])
    small.write_lines(folder / "vehicles.ndjson", small.catalogue()[3:])
    (folder / "README.md").write_text("Not a document.")
    assert check_files(folder) == (5, [])


@pytest.mark.parametrize("exists", [True, False])
def test_a_folder_without_documents_is_refused(folder: Path, exists: bool) -> None:
    if exists:
        folder.mkdir()
    with pytest.raises(InvalidValue, match="no catalogue") as refused:
        check_files(folder)
    assert ".ndjson" in refused.value.mend


def test_an_empty_file_of_lines_says_nothing_new(shop: Shop, tmp_path: Path) -> None:
    shop.put(small.catalogue())
    with pytest.raises(Conflict):
        shop.import_(small.write_lines(tmp_path / "none.ndjson", []))


@pytest.mark.parametrize(
    ("pointer", "value", "at"),
    [
        ("/vin_patterns/0/absent", ["camera"], "/vin_patterns/0/absent"),
        ("/build_codes/0/absent", ["camera"], "/build_codes/0/absent"),
        ("/systems/0/requirements/0/source/checked_on", "2024-13-45", "/checked_on"),
        ("/systems/0/requirements/0/source/checked_on", "2023-02-29", "/checked_on"),
    ],
)
def test_what_cannot_be_true_is_refused(tmp_path: Path, pointer: str, value: Any, at: str) -> None:
    documents = small.catalogue()
    vehicles = [document for document in documents if document["kind"] == "vehicle"]
    spoilt = [put(d, pointer, value) if d in vehicles else d for d in documents]
    _, faults = check_files(small.write(tmp_path / "files", spoilt))
    assert len(faults) == len(vehicles)
    assert all(fault.field.endswith(at) for fault in faults)
