"""What the built wheels carry, and that the demo runs from them alone."""

import os
import shutil
import subprocess
import sys
from pathlib import Path
from zipfile import ZipFile

import pytest

ROOT = Path(__file__).parents[2]
PIP = [sys.executable, "-m", "pip", "--disable-pip-version-check", "--quiet"]


@pytest.fixture(scope="module")
def wheels(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Both wheels, built by the back end that is installed here, without a package index."""
    folder = tmp_path_factory.mktemp("wheels")
    build = ["wheel", "--no-deps", "--no-build-isolation", "--no-index", "--wheel-dir", str(folder)]
    subprocess.run([*PIP, *build, str(ROOT), str(ROOT / "sdk")], check=True, capture_output=True)
    return sorted(folder.glob("*.whl"))


@pytest.fixture(scope="module")
def installed(wheels: list[Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with nothing but the two distributions; what they depend on comes from the interpreter."""
    folder = tmp_path_factory.mktemp("installed")
    install = ["install", "--no-deps", "--no-index", "--target", str(folder), *map(str, wheels)]
    subprocess.run([*PIP, *install], check=True, capture_output=True)
    return folder


def run(installed: Path, folder: Path, *command: str) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "PYTHONPATH": str(installed), "PYTHONDONTWRITEBYTECODE": "1"}
    return subprocess.run(
        command, capture_output=True, text=True, cwd=folder, env=environment, timeout=60, check=False
    )


def names_in(wheel: Path) -> set[str]:
    with ZipFile(wheel) as archive:
        return set(archive.namelist())


def files_under(name: str, pattern: str) -> set[str]:
    return {str(path.relative_to(ROOT)) for path in (ROOT / name).rglob(pattern)}


def test_the_service_carries_its_schema_history_and_the_demo_scenario(wheels: list[Path]) -> None:
    _, service = wheels
    names = names_in(service)
    expected = files_under("migrations", "*.py") | files_under("demo_fixtures", "*.json")
    expected.add("migrations/script.py.mako")
    assert len(expected) > 80
    assert {f"snapline_service/{name}" for name in expected} <= names
    assert {"snapline_service/py.typed", "snapline_service/__main__.py"} <= names
    assert any(name.endswith("/licenses/service/LICENSE") for name in names)
    assert not [name for name in names if name.startswith(("tests", "sdk", "snapline/")) or "/tests/" in name]


def test_the_sdk_carries_its_types_and_nothing_of_the_service(wheels: list[Path]) -> None:
    sdk, _ = wheels
    names = names_in(sdk)
    assert {
        f"snapline/{path.relative_to(ROOT / 'sdk/snapline')}"
        for path in (ROOT / "sdk/snapline").rglob("*.py")
    } <= names
    assert "snapline/py.typed" in names
    assert any(name.endswith("/licenses/LICENSE") for name in names)
    assert {name.partition("/")[0].partition("-")[0] for name in names} == {"snapline", "snapline_sdk"}


def test_the_demo_runs_from_the_wheels_alone(installed: Path, tmp_path: Path) -> None:
    where = run(
        installed,
        tmp_path,
        sys.executable,
        "-c",
        "import snapline, snapline_service as s; print(s.__file__, snapline.__file__)",
    )
    assert all(path.startswith(str(installed)) for path in where.stdout.split())
    done = run(installed, tmp_path, str(installed / "bin" / "snapline"), "demo", "--drawing", "plan.svg")
    assert done.returncode == 0, done.stderr
    assert "5  Where does it stand" in done.stdout
    assert (tmp_path / "plan.svg").read_text().startswith("<svg")


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        (
            "catalogue/vehicles/mirandeux/mirandeux-celadine-2023-eu.json",
            "{",
            "mirandeux-celadine-2023-eu.json",
        ),
        ("catalogue/fixtures/stand-radar.json", None, "stand-radar"),
    ],
)
def test_the_demo_fails_when_its_scenario_is_damaged(
    installed: Path, tmp_path: Path, name: str, content: str | None, said: str
) -> None:
    copy = tmp_path / "copy"
    shutil.copytree(installed, copy)
    file = copy / "snapline_service" / "demo_fixtures" / name
    assert file.exists()
    if content is None:
        file.unlink()
    else:
        file.write_text(content)
    done = run(copy, tmp_path, sys.executable, "-m", "snapline_service", "demo")
    assert done.returncode != 0
    assert "damaged" in done.stderr
    assert said in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "snapline-demo.svg").exists()
