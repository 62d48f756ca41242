"""What the package shows, what it costs to import, and what it keeps to itself."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import snapline

SOURCES = sorted(Path(snapline.__file__).parent.rglob("*.py"))


def test_all_is_sorted_and_complete() -> None:
    assert snapline.__all__ == sorted(snapline.__all__)
    exported = {
        name
        for name, value in vars(snapline).items()
        if not name.startswith("_") and getattr(value, "__module__", "").startswith("snapline")
    }
    assert exported | {"__version__"} == set(snapline.__all__)


def modules_after(code: str) -> set[str]:
    told = subprocess.run(
        [sys.executable, "-c", f"{code}; import sys; print(*sys.modules)"],
        check=True,
        capture_output=True,
        text=True,
    )
    return set(told.stdout.split())


def test_importing_is_light() -> None:
    added = modules_after("import snapline") - modules_after("pass")
    assert len(added) <= 110
    assert added.isdisjoint({"httpx", "asyncio", "logging", "sqlite3", "ssl"})
    assert not any(name.startswith("snapline.resources.") for name in added)


def test_http_is_loaded_with_the_first_client_and_resources_when_asked_for() -> None:
    built = modules_after("import snapline; snapline.Snapline('http://h', 'k')")
    assert "httpx" in built
    assert "snapline.resources.vehicles" not in built
    asked = modules_after("import snapline; snapline.Snapline('http://h', 'k').vehicles")
    assert "snapline.resources.vehicles" in asked
    assert "snapline.resources.setups" not in asked


@pytest.mark.parametrize("source", SOURCES, ids=lambda path: path.stem)
def test_no_annotation_mentions_the_http_library(source: Path) -> None:
    for node in ast.walk(ast.parse(source.read_text())):
        annotations: list[ast.expr | None] = []
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            annotations.append(node.returns)
        elif isinstance(node, ast.arg | ast.AnnAssign):
            annotations.append(node.annotation)
        for annotation in annotations:
            assert annotation is None or "httpx" not in ast.unparse(annotation)


@pytest.mark.parametrize("source", SOURCES, ids=lambda path: path.stem)
def test_only_the_transport_imports_the_http_library(source: Path) -> None:
    imported = {
        name.partition(".")[0]
        for node in ast.walk(ast.parse(source.read_text()))
        for name in (
            [alias.name for alias in node.names]
            if isinstance(node, ast.Import)
            else [node.module or ""]
            if isinstance(node, ast.ImportFrom)
            else []
        )
    }
    others = imported - sys.stdlib_module_names - {"snapline", "msgspec"}
    assert others == ({"httpx"} if source.stem == "httpx_transport" else set())


def test_the_package_is_marked_as_typed() -> None:
    assert Path(snapline.__file__).with_name("py.typed").exists()
