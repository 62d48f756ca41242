"""Commands that run the service."""

import encodings.idna  # noqa: F401 - see _announce
import os
import socket
import tempfile
import threading
import urllib.error
import urllib.request
from pathlib import Path

import click
from granian import Granian
from granian.constants import Interfaces
from rich.console import Console

from snapline_service import database, logs, settings
from snapline_service.cli.options import database_option, out
from snapline_service.demo import scenario, show


@click.command()
@click.option(
    "--demo", "with_demo", is_flag=True, help="Serve the invented demo scenario from a temporary database."
)
@click.option("--host", default="127.0.0.1", show_default=True)
@click.option(
    "--port", type=click.IntRange(0, 65535), default=8000, show_default=True, help="0 takes a free one."
)
@click.option("--workers", type=click.IntRange(1, 64), default=1, show_default=True)
@database_option
def serve(with_demo: bool, host: str, port: int, workers: int, database_url: str | None) -> None:
    """Run the service until it is stopped; prints SNAPLINE_URL once it answers."""
    if with_demo and database_url:
        message = "The demo has a database of its own; leave --database or --demo out."
        raise click.UsageError(message)
    port = _free_port(host, port)
    with tempfile.TemporaryDirectory(prefix="snapline-") as folder:
        if with_demo:
            database_url = f"sqlite:///{folder}/demo.db"
        url = settings.database_url(database_url)
        if url.startswith("sqlite"):
            database.migrate(url)
        else:
            database.require_migrated(url)
        chosen = settings.load(url)  # only now, since it may make the secret's file
        reached = _reached_at(host)
        lines = [f"SNAPLINE_URL=http://{reached}:{port}"]
        if with_demo:
            lines.append(f"SNAPLINE_KEY={scenario.load(chosen)}")
        # Workers are processes of their own and read their settings from the environment.
        os.environ.update(settings.environment(chosen))
        if workers > 1:
            os.environ["PROMETHEUS_MULTIPROC_DIR"] = str(_new_folder(Path(folder) / "metrics"))
        threading.Thread(target=_announce, args=(reached, port, lines), daemon=True).start()
        server = Granian(
            "snapline_service.app:create_app",
            factory=True,
            address=host,
            port=port,
            interface=Interfaces.ASGI,
            workers=workers,
            websockets=False,
            log_dictconfig=logs.config(chosen.log_level),
        )
        server.serve()


@click.command()
@click.option(
    "--drawing",
    type=click.Path(path_type=Path, dir_okay=False),
    default=Path("snapline-demo.svg"),
    show_default=True,
    help="Where to write the drawing.",
)
def demo(drawing: Path) -> None:
    """Run the main job on invented data: from a VIN to where a fixture stands on the floor."""
    show.run(drawing, Console())


@click.command()
@click.option(
    "--to", "revision", default="head", show_default=True, help="A schema revision, 'base' or '-1'."
)
@database_option
def migrate(revision: str, database_url: str | None) -> None:
    """Bring the database's schema up to date (or down again)."""
    database.migrate(settings.database_url(database_url), revision)
    out.print(f"The schema is at {revision}.")


@click.command("contract")
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False))
def write_contract(folder: Path) -> None:
    """Write the OpenAPI document and the catalogue's JSON Schema to FOLDER."""
    from snapline_service import contract  # noqa: PLC0415 - the service itself, which other commands do without

    contract.write(folder)
    out.print(f"Wrote the contract to {folder}.")


def _reached_at(host: str) -> str:
    """Return the address at which this machine reaches a service that listens on a host."""
    return "127.0.0.1" if host in ("0.0.0.0", "") else host  # noqa: S104 - compared, not bound


def _new_folder(path: Path) -> Path:
    path.mkdir()
    return path


def _free_port(host: str, wanted: int) -> int:
    """Return the port, or any free one for 0; workers share ports, so nobody else notices a taken one."""
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, wanted))
        except OSError as error:
            message = f"{host}:{wanted} cannot be served: {error.strerror}. Choose another --port."
            raise click.ClickException(message) from error
        port: int = probe.getsockname()[1]
        return port


def _announce(host: str, port: int, lines: list[str]) -> None:
    """Print where the service is as soon as it answers.

    Workers are forked meanwhile. What this thread would import on its way has to be there before: the lock of
    an import under way at the fork is never released in the worker, which hangs at its first host name.
    """
    pause = threading.Event()
    while True:
        try:
            with urllib.request.urlopen(f"http://{host}:{port}/livez", timeout=1):
                break
        except (urllib.error.URLError, OSError):
            pause.wait(0.02)
    click.echo("\n".join(lines))
