"""An edited sheet comes back: what differs becomes a draft, and what is wrong is named to the cell."""

import csv
import datetime as dt
import io
import zipfile
from typing import Any

import pytest
import xlsxwriter

from service import small
from service.drafts.office import Office
from snapline import Snapline
from snapline.errors import BadRequest
from snapline_service.errors import BodyTooLarge
from snapline_service.spreadsheets import archives

IMPORT = "/v1/spreadsheets/import"
CAR = "ambrel-2020"
Report = dict[str, Any]


def sheet(office: Office, name: str) -> list[list[str]]:
    """Return an exported sheet as rows of texts."""
    text = office.ada.http.get(f"/v1/revisions/current/spreadsheet?sheet={name}").content.decode("utf-8-sig")
    return list(csv.reader(io.StringIO(text, newline="")))


def written(rows: list[list[str]], delimiter: str = ",") -> bytes:
    text = io.StringIO()
    csv.writer(text, delimiter=delimiter).writerows(rows)
    return text.getvalue().encode()


def edited(office: Office, sheet_name: str, row_of: str, **cells: str) -> list[list[str]]:
    """Return a sheet with other cells in the first row about something."""
    rows = sheet(office, sheet_name)
    row = next(row for row in rows if row_of in row)
    for column, text in cells.items():
        row[rows[0].index(column)] = text
    return rows


def checked(office: Office, body: bytes, query: str = "") -> Report:
    answer = office.ada.http.post(f"{IMPORT}?validate_only=true{query}", content=body)
    assert answer.status_code == 200, answer.text
    report: Report = answer.json()
    assert report["draft_id"] is None
    return report


def problem(office: Office, body: bytes, query: str = "") -> dict[str, Any]:
    (only,) = checked(office, body, query)["problems"]
    return dict(only)


def imported(office: Office, body: bytes, query: str = "") -> Report:
    answer = office.ada.http.post(f"{IMPORT}{query}", content=body)
    assert answer.status_code == 201, answer.text
    report: Report = answer.json()
    return report


def vehicle(office: Office, report: Report) -> Any:
    return office.ada.get(f"/v1/drafts/{report['draft_id']}/vehicles/{CAR}")


def along(document: Any) -> float:
    return float(document["procedures"][0]["stages"][0]["placements"][0]["placement"]["along"]["distance_mm"])


def test_a_changed_cell_changes_that_field_alone(office: Office) -> None:
    before = office.ada.get(f"{office.ada.begin()}/vehicles/{CAR}")
    report = imported(office, written(edited(office, "placements", CAR, along_mm="2450.5")), "?note=laser")
    after = vehicle(office, report)
    assert (report["changed_cells"], report["changed_documents"]) == (1, 1)
    assert (along(before), along(after)) == (2400, 2450.5)
    after["procedures"][0]["stages"][0]["placements"][0]["placement"]["along"]["distance_mm"] = 2400
    assert after == before
    draft = office.ada.get(f"/v1/drafts/{report['draft_id']}")
    assert (draft["note"], draft["editors"], draft["changes"]) == ("laser", ["Ada"], 1)


def test_only_validated_it_writes_nothing(office: Office) -> None:
    report = checked(office, written(edited(office, "placements", CAR, along_mm="2450")))
    assert (report["changed_cells"], report["problems"]) == (1, [])
    assert office.ada.get("/v1/drafts?state=draft")["items"] == []


def test_a_bad_cell_is_named_by_row_letter_and_heading(office: Office) -> None:
    rows = edited(office, "placements", CAR, along_mm="two metres")
    found = problem(office, written(rows))
    number = 1 + next(index for index, row in enumerate(rows) if CAR in row)
    assert (found["sheet"], found["row"], found["column"]) == ("placements", number, "N")
    assert (found["name"], found["value"]) == ("along_mm", "two metres")


def test_with_a_problem_nothing_is_imported_and_the_errors_point_to_cells(office: Office) -> None:
    rows = edited(office, "placements", CAR, along_mm="two metres")
    answer = office.ada.http.post(IMPORT, content=written(rows))
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == "/placements/2/along_mm"
    assert office.ada.get("/v1/drafts?state=draft")["items"] == []


def test_all_problems_are_told_at_once_up_to_a_thousand(office: Office) -> None:
    rows = [["fixture_id", "mass_kg"], *([f"board-{index}", "heavy"] for index in range(1200))]
    report = checked(office, written(rows))
    assert (len(report["problems"]), report["more_problems"]) == (1000, 200)


@pytest.mark.parametrize("text", ["1-2", "02-Jan", "2026-02-01", "1.2.2026"])
def test_a_number_that_became_a_date_is_refused(text: str, office: Office) -> None:
    assert "date" in problem(office, written(edited(office, "placements", CAR, along_mm=text)))["detail"]


def test_a_figure_in_millimetres_that_looks_like_inches_is_refused_until_it_is_confirmed(
    office: Office,
) -> None:
    body = written(edited(office, "placements", CAR, along_mm="94.5"))  # 2,400.3 mm
    assert "inches" in problem(office, body)["detail"]
    confirmed = problem(office, body, "&units=mm")["detail"]  # what is left: it lies outside its range
    assert "inches" not in confirmed


def test_a_column_in_inches_is_converted_exactly(office: Office) -> None:
    rows = edited(office, "placements", CAR, along_mm="95")
    rows[0][rows[0].index("along_mm")] = "along_in"
    for row in rows[1:]:
        row[rows[0].index("along_in")] = "95"
    report = imported(office, written(rows))
    assert report["detected"][0]["inch_columns"] == ["along_mm"]
    assert along(vehicle(office, report)) == 2413.0  # 95 × 25.4, the international inch of 1959


@pytest.mark.parametrize("text", ["2,450", "2.450"])
def test_a_number_that_may_be_either_is_refused_until_the_mark_is_stated(text: str, office: Office) -> None:
    body = written(edited(office, "placements", CAR, along_mm=text), ";")
    assert "not certain" in problem(office, body)["detail"]
    decimal = "point" if "," in text else "comma"  # so that the other one groups thousands
    report = imported(office, body, f"?decimal={decimal}")
    assert along(vehicle(office, report)) == 2450


def test_a_decimal_comma_is_detected_and_told(office: Office) -> None:
    report = imported(office, written(edited(office, "placements", CAR, along_mm="2450,5"), ";"))
    assert (report["detected"][0]["delimiter"], report["detected"][0]["decimal"]) == (";", "comma")
    assert along(vehicle(office, report)) == 2450.5


@pytest.mark.parametrize(
    ("encoding", "told", "confidence"),
    [
        ("utf-8-sig", "utf-8", "certain"),
        ("utf-8", "utf-8", "certain"),
        ("utf-16", "utf-16", "certain"),
        ("utf-16-le", "utf-16", "likely"),
        ("windows-1252", "windows-1252", "likely"),
    ],
)
def test_the_encoding_is_detected_and_told(encoding: str, told: str, confidence: str, office: Office) -> None:
    text = written(edited(office, "fixtures", "board", name="Tafel für Kameras")).decode()
    report = imported(office, text.encode(encoding))
    assert (report["detected"][0]["encoding"], report["detected"][0]["encoding_confidence"]) == (
        told,
        confidence,
    )
    path = f"/v1/drafts/{report['draft_id']}/fixtures/board"
    assert office.ada.get(path)["name"] == "Tafel für Kameras"


def test_cells_with_quotes_delimiters_and_line_breaks_follow_rfc_4180(office: Office) -> None:
    # RFC 4180, section 2, rules 5 to 7.
    body = b'fixture_id,name,mass_kg\r\nboard,"a ""wide"", red\r\nboard",19\r\n'
    report = imported(office, body)
    assert (
        office.ada.get(f"/v1/drafts/{report['draft_id']}/fixtures/board")["name"] == 'a "wide", red\r\nboard'
    )


def test_the_last_line_break_may_be_missing(office: Office) -> None:
    assert checked(office, b"fixture_id,mass_kg\r\nboard,19")["changed_cells"] == 1  # RFC 4180, rule 2


def test_a_quote_that_does_not_close_is_refused(office: Office) -> None:
    answer = office.ada.http.post(IMPORT, content=b'fixture_id,name\r\nboard,"open\r\n')
    assert answer.status_code == 422
    assert "not CSV" in answer.json()["detail"]


@pytest.mark.parametrize("row", ["board,17,5", "board", "board,17,,5"])
def test_a_row_that_is_wider_or_narrower_than_the_headings_is_refused(row: str, office: Office) -> None:
    found = problem(office, f"fixture_id,mass_kg\r\n,\r\n{row}\r\n".encode())
    assert (found["row"], found["column"], found["value"]) == (3, None, "")
    assert "in quotes, or use another delimiter" in found["mend"]
    assert f"has {len(row.split(','))} cells, and the headings are 2" in found["detail"]


@pytest.mark.parametrize(
    "text",
    [
        "fixture_id,mass_kg\r\n\r\nboard,19\r\n\r\n",
        "fixture_id,mass_kg\r\nboard,19,,\r\n",
        "fixture_id,mass_kg,,\r\nboard,19\r\n",
        'fixture_id,mass_kg\r\nboard,"19"\r\n,\r\n',
    ],
)
def test_empty_lines_and_empty_cells_beyond_the_headings_are_harmless(text: str, office: Office) -> None:
    assert checked(office, text.encode())["changed_cells"] == 1


def test_an_unknown_heading_is_refused_with_the_nearest(office: Office) -> None:
    found = problem(office, b"fixture_id,mass_kilo\r\nboard,19\r\n")
    assert (found["row"], found["column"]) == (1, "B")
    assert "mass_kg" in found["mend"]


def test_a_sheet_that_is_taken_for_another_is_told_from_its_headings(office: Office) -> None:
    found = checked(office, written(sheet(office, "vehicles")), "&sheet=fixtures")["problems"]
    told = {(one["detail"], one["mend"]) for one in found if one["column"]}
    assert told == {
        (
            "This heading is not known in this sheet.",
            "This looks like the sheet vehicles: import it as that one.",
        )
    }
    assert [one["name"] for one in found if not one["column"]] == ["fixture_id"]


def test_unknown_headings_are_unknown_and_only_known_ones_stand_twice(office: Office) -> None:
    found = checked(office, b"fixture_id,colour,length,mass_kg,mass_kg\r\nboard,red,1,19,19\r\n")["problems"]
    assert [(one["name"], one["detail"]) for one in found] == [
        ("colour", "This heading is not known in this sheet."),
        ("length", "This heading is not known in this sheet."),
        ("mass_kg", "This heading stands twice."),
    ]


def test_a_delimiter_that_the_file_does_not_have_is_refused_with_the_one_that_it_has(office: Office) -> None:
    answer = office.ada.http.post(
        f"{IMPORT}?delimiter=semicolon", content=b"fixture_id,mass_kg\r\nboard,19\r\n"
    )
    assert answer.status_code == 422
    (fault,) = answer.json()["errors"]
    assert fault["pointer"] == "/delimiter"
    assert "delimiter=comma" in fault["mend"]


@pytest.mark.parametrize("line", ["sep=;\r\n", '"sep=;"\n', "\ufeffSEP=;\r"])
def test_a_first_line_that_tells_the_delimiter_is_honoured_and_not_counted(line: str, office: Office) -> None:
    report = checked(office, f"{line}fixture_id;mass_kg\r\nboard;17,5\r\n".encode())
    assert (report["detected"][0]["delimiter"], report["changed_cells"]) == (";", 1)
    assert problem(office, f"{line}fixture_id;mass_kg\r\nboard;heavy\r\n".encode())["row"] == 2


def test_a_sheet_without_its_keys_is_refused(office: Office) -> None:
    assert problem(office, b"mass_kg,name\r\n19,Board\r\n", "&sheet=fixtures")["name"] == "fixture_id"


def test_two_rows_about_the_same_are_refused(office: Office) -> None:
    found = problem(office, b"fixture_id,mass_kg\r\nboard,19\r\nboard,20\r\n")
    assert (found["row"], found["name"]) == (3, "fixture_id")


def test_a_value_that_the_schema_refuses_is_told_at_its_cell(office: Office) -> None:
    found = problem(office, written(edited(office, "vehicles", CAR, drive_side="middle")))
    assert (found["name"], found["value"]) == ("drive_side", "middle")


def test_a_reference_that_leads_nowhere_is_told_at_its_cell(office: Office) -> None:
    found = problem(office, written(edited(office, "placements", CAR, named_fixtures="boart")))
    assert (found["name"], found["value"]) == ("named_fixtures", "boart")


def test_a_new_row_adds_a_placement_to_a_stage(office: Office) -> None:
    rows = sheet(office, "placements")
    row = list(next(row for row in rows if CAR in row))
    row[rows[0].index("placement_id")], row[rows[0].index("lateral_mm")] = "second", "-600"
    report = imported(office, written([rows[0], row]))
    placements = vehicle(office, report)["procedures"][0]["stages"][0]["placements"]
    assert [(one["id"], one["placement"]["lateral"]["distance_mm"]) for one in placements] == [
        ("board", 0),
        ("second", -600),
    ]


def test_a_new_row_in_a_stage_that_is_not_there_is_refused(office: Office) -> None:
    rows = sheet(office, "placements")
    row = list(next(row for row in rows if CAR in row))
    row[rows[0].index("stage_id")] = "no-such-stage"
    assert problem(office, written([rows[0], row]))["name"] == "stage_id"


def test_new_rows_add_fixtures_and_vehicles_with_the_minimum(office: Office) -> None:
    report = imported(
        office,
        b"fixture_id,name,fixture_kind,reference_point,invented\r\nmat,Mat,mat,front edge,yes\r\n",
    )
    assert office.ada.get(f"/v1/drafts/{report['draft_id']}/fixtures/mat")["invented"] is True
    heading = "vehicle_id,make,model,body,markets,drive_side,model_year_first,invented"
    report = imported(office, f"{heading}\r\nnew-one,Sennic,Carver,estate,EU NO,left,2021,yes\r\n".encode())
    found = office.ada.get(f"/v1/drafts/{report['draft_id']}/vehicles/new-one")
    assert (found["markets"], found["dimensions"]) == (["EU", "NO"], {})


def test_what_a_new_row_lacks_is_named(office: Office) -> None:
    found = checked(office, b"vehicle_id,make,model\r\nnew-one,Sennic,Carver\r\n")["problems"]
    assert {one["name"] for one in found} >= {"body", "markets", "drive_side", "model_year_first"}


def test_a_row_that_is_left_out_changes_nothing_and_one_with_retire_goes(office: Office) -> None:
    assert checked(office, written(sheet(office, "vehicles")[:1]))["changed_documents"] == 0
    report = imported(office, f"vehicle_id,retire\r\n{CAR},yes\r\n".encode())
    assert office.ada.http.get(f"/v1/drafts/{report['draft_id']}/vehicles/{CAR}").status_code == 404


def test_compared_is_with_the_exported_revision_so_that_others_changes_stay(office: Office) -> None:
    rows = edited(office, "vehicles", CAR, make="Sennic Two")
    office.shop.put([{**small.vehicle(), "model": "Ambrel Cross"}])
    report = imported(office, written(rows), "?base_revision=1")
    found = vehicle(office, report)
    assert (found["make"], found["model"]) == ("Sennic Two", "Ambrel Cross")


def test_a_cell_that_somebody_else_changed_meanwhile_is_a_problem_with_both_values(office: Office) -> None:
    rows = edited(office, "vehicles", CAR, model="Ambrel Two")
    office.shop.put([{**small.vehicle(), "model": "Ambrel Cross"}])
    found = problem(office, written(rows), "&base_revision=1")
    assert (found["name"], found["value"]) == ("model", "Ambrel Two")
    assert "Ambrel Cross" in found["detail"]


def workbook(sheet_name: str, *rows: list[Any]) -> io.BytesIO:
    file = io.BytesIO()
    with xlsxwriter.Workbook(file, {"default_date_format": "yyyy-mm-dd"}) as book:
        page = book.add_worksheet(sheet_name)
        for number, row in enumerate(rows):
            page.write_row(number, 0, row)
    return file


def test_a_number_that_a_workbook_holds_as_text_is_told_with_its_mark(office: Office) -> None:
    body = workbook("fixtures", ["fixture_id", "mass_kg"], ["board", "17,5"]).getvalue()
    found = problem(office, body)
    assert found["detail"] == "This is a text with a decimal comma, not a number."
    assert "decimal=comma" in found["mend"]
    found = problem(office, body, "&decimal=point")
    assert found["detail"] == "This has a decimal comma, and the file is read with a decimal point."


def test_a_formula_in_a_workbook_is_refused_with_its_cell(office: Office) -> None:
    body = workbook("fixtures", ["fixture_id", "mass_kg"], ["board", "=10+9"]).getvalue()
    found = checked(office, body)["problems"][0]
    assert (found["sheet"], found["row"], found["column"]) == ("fixtures", 2, "B")
    assert "formula" in found["detail"]


def test_a_formula_in_csv_is_refused_and_a_guarded_text_is_a_text(office: Office) -> None:
    assert "formula" in problem(office, b"fixture_id,name\r\nboard,=1+1\r\n")["detail"]
    report = imported(office, b"fixture_id,name\r\nboard,'=1+1\r\n")
    assert office.ada.get(f"/v1/drafts/{report['draft_id']}/fixtures/board")["name"] == "=1+1"


def test_a_number_that_a_workbook_holds_as_a_date_is_refused(office: Office) -> None:

    day = dt.date(2026, 2, 1)
    body = workbook("fixtures", ["fixture_id", "mass_kg"], ["board", day]).getvalue()
    assert "date" in problem(office, body)["detail"]


def test_a_zip_bomb_is_refused_whatever_it_says_of_its_size(monkeypatch: pytest.MonkeyPatch) -> None:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as files:
        files.writestr("fixtures.csv", b"0" * 2_000_000)
    assert archives.members(file.getvalue()) == ["fixtures.csv"]
    monkeypatch.setattr(archives, "MAX_UNPACKED_BYTES", 1_000_000)
    with pytest.raises(BodyTooLarge):
        archives.members(file.getvalue())


@pytest.mark.parametrize("body", [b"", b"PK\x03\x04 not a zip", b"\xff\xfe\x00", b"{}", b"a,b\r\n1,2\r\n"])
def test_what_is_no_spreadsheet_is_refused(body: bytes, office: Office) -> None:
    assert office.ada.http.post(IMPORT, content=body).status_code == 422


def test_a_file_of_more_than_a_megabyte_is_taken_and_one_of_more_than_twenty_is_not(office: Office) -> None:
    padded = b"fixture_id,mass_kg\r\nboard,19\r\n" + b",\r\n" * 400_000
    assert checked(office, padded)["changed_cells"] == 1
    assert office.ada.http.post(IMPORT, content=b" " * 20_000_001).status_code == 413


def test_it_needs_the_scope_to_edit(office: Office) -> None:
    reader = office.ada.another_key("read")
    assert reader.post(IMPORT, content=b"fixture_id\r\n").status_code == 403
    assert reader.get("/v1/revisions/1/spreadsheet").status_code == 200


def test_the_sdk_exports_and_imports(office: Office) -> None:
    key = office.shop.key().token
    with Snapline(office.url, key) as client:
        file = client.spreadsheets.export(1)
        assert client.spreadsheets.import_file(file).draft_id is None
        report = client.spreadsheets.import_file(b"fixture_id,mass_kg\r\nboard,19\r\n", note="weighed")
        assert report.draft_id
        with pytest.raises(BadRequest):
            client.spreadsheets.import_file(b"fixture_id,mass_kg\r\nboard,heavy\r\n")
        checked = client.spreadsheets.import_file(
            b"fixture_id,mass_kg\r\nboard,heavy\r\n", validate_only=True
        )
        assert checked.problems[0].value == "heavy"


def test_a_workbook_says_itself_which_revision_it_was_exported_from(office: Office) -> None:
    rows = edited(office, "vehicles", CAR, make="Sennic Two")
    about = io.BytesIO()
    with xlsxwriter.Workbook(about) as book:
        book.add_worksheet("About").write_row(1, 0, ["revision", 1])
        page = book.add_worksheet("vehicles")
        for number, row in enumerate(rows):
            page.write_row(number, 0, row)
    office.shop.put([{**small.vehicle(), "model": "Ambrel Cross"}])
    found = vehicle(office, imported(office, about.getvalue()))
    assert (found["make"], found["model"]) == ("Sennic Two", "Ambrel Cross")


def test_a_placement_that_is_retired_goes_and_the_last_of_a_stage_may_not(office: Office) -> None:
    rows = edited(office, "placements", CAR, retire="yes")
    found = problem(office, written(rows[:2]))
    assert found["row"] == 2
    assert "too few" in found["detail"]
    second = {**small.vehicle(), "id": CAR}
    stage = second["procedures"][0]["stages"][0]
    stage["placements"] = [*stage["placements"], {**stage["placements"][0], "id": "second"}]
    office.shop.put([second])
    rows = edited(office, "placements", "second", retire="yes")
    after = vehicle(office, imported(office, written(rows)))
    assert [one["id"] for one in after["procedures"][0]["stages"][0]["placements"]] == ["board"]
