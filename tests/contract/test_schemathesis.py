"""Random and deliberately wrong requests to every operation, on both engines (schemathesis).

SNAPLINE_FUZZ=1 tries very many more, other ones each time.
"""

import os
import subprocess
import sys
from pathlib import Path
from string import Template

from contract.api import OPERATIONS
from contract.scene import Scene
from running import Service, running
from snapline_service.settings import Settings

HERE = Path(__file__).parent
MANY = os.environ.get("SNAPLINE_FUZZ") == "1"
EFFORT = ("--max-examples", "2000") if MANY else ("--max-examples", "25", "--seed", "8855")


def things(service: Service, key: str) -> dict[str, str]:
    """Make one of each of what gets its name from the service; return the names for the configuration."""
    with Scene(service, key) as scene:
        return {
            "SNAPLINE_DRAFT": scene.send("create_draft")["id"],
            "SNAPLINE_NOTE": scene.send("create_note")["id"],
            "SNAPLINE_WEBHOOK": scene.send("create_webhook")["webhook"]["id"],
        }


def test_no_request_gets_an_answer_that_is_not_described(
    own_demo: tuple[Settings, str], tmp_path: Path
) -> None:
    settings, key = own_demo
    configuration = tmp_path / "schemathesis.toml"
    program = (sys.executable, "-m", "schemathesis.cli", "--config-file", str(configuration))
    with running(settings, log=tmp_path / "log") as tried:
        text = Template((HERE / configuration.name).read_text())
        configuration.write_text(text.substitute(things(tried, key), SNAPLINE_KEY=key))
        variables = {
            **os.environ,
            "SCHEMATHESIS_HOOKS": "contract.schemathesis_checks",
            "PYTHONPATH": str(HERE.parent),
        }
        command = (*program, "run", f"{tried.url}/openapi.json", "--continue-on-failure", *EFFORT)
        done = subprocess.run(
            command, cwd=tmp_path, env=variables, capture_output=True, text=True, check=False
        )
    assert done.returncode == 0, f"{done.stdout}\n{done.stderr}"
    assert f"Tested: {len(OPERATIONS)}" in done.stdout
    assert '"ERROR"' not in (tmp_path / "log").read_text()
