"""A client made from the document in another language compiles, and its types have teeth."""

import shutil
import subprocess
from pathlib import Path

import pytest

from contract.api import FOLDER

SOURCES = Path(__file__).parent / "typescript"
UNREACHABLE = ("ENOTFOUND", "EAI_AGAIN", "ECONNREFUSED", "ECONNRESET", "ETIMEDOUT", "ENETUNREACH")
STRICT = (
    "--strict",
    "--noEmit",
    "--target",
    "es2022",
    "--exactOptionalPropertyTypes",
    "--noUncheckedIndexedAccess",
)


def run(folder: Path, *command: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)


def test_a_typescript_client_made_from_the_document_compiles(tmp_path: Path) -> None:
    npm = shutil.which("npm")
    if npm is None:
        pytest.skip(
            "NOT TESTED: no TypeScript client was compiled, because Node.js with npm is not installed"
        )
    shutil.copytree(SOURCES, tmp_path, dirs_exist_ok=True)
    options = ("--prefer-offline", "--no-audit", "--no-fund", "--no-package-lock", "--ignore-scripts")
    installed = run(tmp_path, npm, "install", *options)
    if any(sign in installed.stderr for sign in UNREACHABLE):
        pytest.skip("NOT TESTED: no TypeScript client was compiled, because npm's packages cannot be reached")
    assert installed.returncode == 0, installed.stderr
    programs = tmp_path / "node_modules" / ".bin"
    # Without this option a field with a default counts as one that must be sent.
    optional = ("--default-non-nullable", "false")
    document = str(FOLDER / "openapi.json")
    made = run(tmp_path, str(programs / "openapi-typescript"), document, "-o", "api.d.ts", *optional)
    assert made.returncode == 0, made.stderr
    checked = run(tmp_path, str(programs / "tsc"), *STRICT, "client.ts")
    assert (checked.stdout, checked.returncode) == ("", 0)
