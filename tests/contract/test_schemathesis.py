"""Random and deliberately wrong requests to every operation, on both engines (schemathesis).

SNAPLINE_FUZZ=1 tries very many more, other ones each time.
"""

import os
import subprocess
import sys
from pathlib import Path

import msgspec
import sqlalchemy as sa

from contract.api import OPERATIONS
from running import Service, running
from snapline_service import places
from snapline_service.database import writing
from snapline_service.demo import scenario
from snapline_service.sites.importing import import_files
from snapline_service.sites.tables import AssetRow, BayRow, SiteRow

HERE = Path(__file__).parent
MANY = os.environ.get("SNAPLINE_FUZZ") == "1"
EFFORT = ("--max-examples", "2000") if MANY else ("--max-examples", "25", "--seed", "8855")


def renew_sites(engine: sa.Engine) -> None:
    """Put back the scenario's sites, which the service has let itself be told to change."""
    with writing(engine) as session:
        for table in (AssetRow, BayRow, SiteRow):
            session.exec(sa.delete(table))
    imported, _ = import_files(engine, places.demo_fixtures() / "sites", group=scenario.GROUP, by="test")
    assert imported is not None


def test_no_request_gets_an_answer_that_is_not_described(
    demo_service: tuple[Service, str], tmp_path: Path
) -> None:
    service, key = demo_service
    unhurried = msgspec.structs.replace(service.settings, requests_per_minute=10_000_000)
    program = (sys.executable, "-m", "schemathesis.cli", "--config-file", str(HERE / "schemathesis.toml"))
    variables = {
        **os.environ,
        "SNAPLINE_KEY": key,
        "SCHEMATHESIS_HOOKS": "contract.schemathesis_checks",
        "PYTHONPATH": str(HERE.parent),
    }
    with running(unhurried, log=tmp_path / "log") as tried:
        command = (*program, "run", f"{tried.url}/openapi.json", "--continue-on-failure", *EFFORT)
        done = subprocess.run(
            command, cwd=tmp_path, env=variables, capture_output=True, text=True, check=False
        )
    with service.engine() as engine:
        renew_sites(engine)
    assert done.returncode == 0, f"{done.stdout}\n{done.stderr}"
    assert f"Tested: {len(OPERATIONS)}" in done.stdout
    assert '"ERROR"' not in (tmp_path / "log").read_text()
