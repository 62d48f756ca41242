"""The commands that a newcomer types first: the demo, and a demo service."""

import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree

import pytest

from service.catalogue.demo import VEHICLES
from snapline import Snapline

SNAPLINE = [sys.executable, "-m", "snapline_service"]
STEPS = [
    "1  Which car is it?",
    "2  What is fitted?",
    "3  What do its systems need?",
    "4  Which vehicles does it serve",
    "5  Where does it stand",
    "6  How to set it out",
    "7  Is it really there?",
    "8  What does this repair call for",
    "9  Which site can do it",
    "10  In which order",
]
# The demo ends itself after ten seconds of its own; this only keeps a broken one from hanging the tests.
FAR_TOO_LONG_S = 60


def run(folder: Path, *arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*SNAPLINE, *arguments],
        capture_output=True,
        text=True,
        cwd=folder,
        env={**os.environ, "COLUMNS": "200", **environment},
        timeout=FAR_TOO_LONG_S,
        check=False,
    )


def test_the_demo_shows_the_whole_job_and_leaves_a_drawing(tmp_path: Path) -> None:
    done = run(tmp_path, "demo")
    assert done.returncode == 0, done.stderr
    places = [done.stdout.index(step) for step in STEPS]
    assert places == sorted(places)
    for start, end in zip(places, [*places[1:], len(done.stdout)], strict=True):
        assert re.search("[┃│].*[┃│]", done.stdout[start:end])  # a table
    assert "invented" in done.stdout
    assert "not a release of the vehicle" in done.stdout
    drawing = tmp_path / "snapline-demo.svg"
    assert ElementTree.parse(drawing).getroot().tag == "{http://www.w3.org/2000/svg}svg"
    assert "INVENTED DATA" in drawing.read_text()
    assert "<script" not in (tmp_path / "snapline-demo.html").read_text()
    assert (tmp_path / "snapline-demo-visit.pdf").read_bytes().startswith(b"%PDF")
    assert len(list(tmp_path.iterdir())) == 3


def test_the_demo_fails_where_it_cannot_write_its_drawing(tmp_path: Path) -> None:
    done = run(tmp_path, "demo", "--drawing", "no-such-folder/demo.svg")
    assert done.returncode != 0
    assert "no-such-folder" in done.stderr
    assert not list(tmp_path.iterdir())


def test_the_demo_fails_where_its_service_cannot_start(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    done = run(tmp_path, "demo", SNAPLINE_DATA=str(tmp_path / "file" / "revisions"))
    assert done.returncode != 0
    assert "did not start" in done.stderr
    assert "3  What do its systems need?" not in done.stdout
    assert not (tmp_path / "snapline-demo.svg").exists()


@pytest.fixture
def demo_served(tmp_path: Path) -> Iterator[dict[str, str]]:
    """What `snapline serve --demo` prints, while it serves."""
    environment = {**os.environ, "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(
        [*SNAPLINE, "serve", "--demo", "--port", "0"],
        stdout=subprocess.PIPE,
        text=True,
        cwd=tmp_path,
        env=environment,
    ) as process:
        try:
            assert process.stdout
            lines = [process.stdout.readline().strip() for _ in range(2)]
            yield dict(line.split("=", 1) for line in lines)
        finally:
            process.terminate()
    assert not list(tmp_path.iterdir())  # its database was a temporary one


def test_a_demo_service_tells_a_program_by_the_environment_all_it_needs(
    demo_served: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert list(demo_served) == ["SNAPLINE_URL", "SNAPLINE_KEY"]
    assert re.fullmatch(r"http://127\.0\.0\.1:\d+", demo_served["SNAPLINE_URL"])
    for name, value in demo_served.items():
        monkeypatch.setenv(name, value)
    with Snapline() as client:
        assert {vehicle.id for vehicle in client.vehicles.list()} == set(VEHICLES)
    # And a program of its own, as one would write it.
    program = "import json, snapline; print(json.dumps([v.id for v in snapline.Snapline().vehicles.list()]))"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert set(json.loads(done.stdout)) == set(VEHICLES)
