"""`snapline sheet`: the file that was asked for, from the service that the environment names."""

from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from running import Service
from snapline_service.cli import main

Run = Callable[..., Result]
CAR, BOARD = "quellovane-lirra-2016-eu", "camera-board"


@pytest.fixture
def run(demo_service: tuple[Service, str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Run the command in an empty folder against the demo service."""
    service, key = demo_service
    monkeypatch.chdir(tmp_path)

    def run(*arguments: str, **environment: str) -> Result:
        known = {"SNAPLINE_URL": service.url, "SNAPLINE_KEY": key, "COLUMNS": "200", **environment}
        return CliRunner(env=known).invoke(main, ["sheet", *arguments])

    return run


@pytest.mark.parametrize(
    ("name", "begins"), [("s.pdf", b"%PDF-"), ("s.html", b"<!DOCTYPE html>"), ("s.svg", b"<svg")]
)
def test_the_name_of_the_file_decides_what_is_written(run: Run, name: str, begins: bytes) -> None:
    done = run(CAR, BOARD, "-o", name)
    assert (done.exit_code, done.output) == (0, f"Wrote {name}.\n")
    assert Path(name).read_bytes().startswith(begins)


def test_without_a_name_a_pdf_is_named_after_car_and_procedure(run: Run) -> None:
    assert run(CAR, BOARD).exit_code == 0
    assert Path(f"{CAR}-{BOARD}.pdf").read_bytes().startswith(b"%PDF-")


def test_readings_units_paper_and_stage_are_passed_on(run: Run) -> None:
    done = run(
        "mirandeux-celadine-2023-eu", BOARD, "--measured", "vehicle.thrust_yaw_deg=0.3",
        "--units", "in", "--paper", "letter", "-o", "s.html",
    )  # fmt: skip
    assert done.exit_code == 0
    html = Path("s.html").read_text()
    assert "turned 0.3° to the left" in html
    assert "inches" in html
    assert "size:letter" in html
    assert (
        run("brennhavik-skarra-2024-eu", "night-vision-grid", "--stage", "far", "-o", "s.svg").exit_code == 0
    )
    assert "Grid far" in Path("s.svg").read_text()


@pytest.mark.parametrize(
    ("arguments", "said", "status"),
    [
        (["no-such-car", BOARD], "no vehicle 'no-such-car'", 1),
        ([CAR, "camera-bord"], "Did you mean 'camera-board'?", 1),
        ([CAR, BOARD, "-o", "s.doc"], "does not end in .pdf, .html or .svg", 2),
        ([CAR, BOARD, "--measured", "905"], "not NAME=VALUE", 2),
        ([CAR, BOARD, "--measured", "vehicle.width_mm=wide"], "not NAME=VALUE", 2),
        ([CAR, BOARD, "--measured", "vehicle.width_mm=nan"], "not NAME=VALUE", 2),
        ([CAR, BOARD, "--measured", "vehicle.width_mm=1e999"], "not NAME=VALUE", 2),
        ([CAR, BOARD, "--measured", "vehicle.width_mm=-inf"], "not NAME=VALUE", 2),
        ([CAR, BOARD, "--stage", "zzz", "-o", "s.pdf"], "zzz", 1),
        ([CAR, BOARD, "--stage", "zzz", "-o", "s.html"], "zzz", 1),
        ([CAR, BOARD, "--measured", "vehicle.width_mm=1"], "millimetres", 1),
        ([CAR], "Missing argument 'PROCEDURE'", 2),
    ],
)
def test_what_is_wrong_is_said_in_words(run: Run, arguments: list[str], said: str, status: int) -> None:
    done = run(*arguments)
    assert done.exit_code == status, done.output
    assert said in done.output
    assert "Traceback" not in done.output
    assert list(Path.cwd().iterdir()) == []


def test_without_a_service_it_says_what_is_missing(run: Run) -> None:
    done = run(CAR, BOARD, SNAPLINE_URL="")
    assert done.exit_code == 1
    assert "SNAPLINE_URL" in done.output
