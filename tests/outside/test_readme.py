"""What the README shows is what happens."""

import os
import re
import subprocess
import sys
from math import cos, radians, sin, tan
from pathlib import Path

import pytest

from running import Service, running
from snapline import Snapline
from snapline_service.settings import Settings

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text()


def run_program(program: str, demo_service: tuple[Service, str]) -> str:
    service, key = demo_service
    environment = {**os.environ, "SNAPLINE_URL": service.url, "SNAPLINE_KEY": key}
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, env=environment, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_the_first_paragraph_is_the_job() -> None:
    assert README.split("\n\n")[1].startswith("A repair that touches")


EXAMPLES = re.findall(r"<!-- example.*?```python\n(.*?)```\n\n```\n(.*?)```", README, re.DOTALL)
LOOKING_UP, CORRECTING = EXAMPLES[:-1], EXAMPLES[-1]


@pytest.mark.parametrize(("program", "printed"), LOOKING_UP, ids=["fixture", "visit"])
def test_an_example_prints_what_the_readme_says(
    program: str, printed: str, demo_service: tuple[Service, str]
) -> None:
    assert run_program(program, demo_service) == printed


def test_a_correction_travels_as_the_readme_says(own_demo: tuple[Settings, str]) -> None:
    """It changes the catalogue, so it has a service of its own."""
    settings, key = own_demo
    program, printed = CORRECTING
    with running(settings) as service:
        assert run_program(program, (service, key)) == printed


def test_an_example_is_short_enough_to_be_read() -> None:
    assert all(len(program.splitlines()) <= 24 for program, _ in EXAMPLES)


def test_the_program_written_from_the_readme_alone_runs(demo_service: tuple[Service, str]) -> None:
    program = (Path(__file__).parent / "readme_program.py").read_text()
    assert "mm" in run_program(program, demo_service)


def test_the_placement_worked_by_hand(client: Snapline) -> None:
    # The arithmetic of the README, step by step as on a pocket calculator.
    front_bumper_mm = 2890 + 935
    thrust_deg = (0.25 - 0.05) / 2
    y_at_bumper_mm = front_bumper_mm * tan(radians(thrust_deg))
    x_mm = front_bumper_mm + 2200 * cos(radians(thrust_deg))
    y_mm = y_at_bumper_mm + 2200 * sin(radians(thrust_deg))
    printed = f"{x_mm:,.3f}", f"{y_mm:.3f}", f"{y_at_bumper_mm:.3f}"
    assert printed == ("6,024.997", "10.516", "6.676")
    assert all(figure in README for figure in printed)

    setup = client.setups.compute(
        vehicle_id="jorvantel-rhedgarn-2020-us",
        procedure_id="radar-reflector",
        measured={"vehicle.thrust_yaw_deg": thrust_deg},
    )
    pose = setup.stages[0].placements[0].in_vehicle
    assert (pose.x_mm, pose.y_mm) == pytest.approx((x_mm, y_mm), abs=0.001)
