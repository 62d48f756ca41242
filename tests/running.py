"""Start what the tests need: a PostgreSQL server of their own, and the real service."""

import contextlib
import os
import pwd
import re
import shutil
import subprocess
import sys
import tempfile
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import sqlalchemy as sa

from snapline_service import database
from snapline_service.settings import Settings, environment


class PostgreSQL:
    """A throw-away PostgreSQL server from the machine's own binaries, reached by a Unix socket."""

    def __init__(self, binaries: Path) -> None:
        self._binaries = binaries
        self._folder = Path(tempfile.mkdtemp(prefix="snapline-postgresql-", dir="/tmp"))
        # The server refuses to run as root.
        self._user = self._unprivileged_user() if os.geteuid() == 0 else None
        if self._user:
            shutil.chown(self._folder, self._user)
        self._data = self._folder / "data"
        self._call("initdb", "-D", self._data, "-U", "snapline", "-A", "trust", "--no-sync", "-E", "UTF8")
        options = f"-c listen_addresses= -c unix_socket_directories={self._folder} -c fsync=off"
        log = self._folder / "log"
        self._call("pg_ctl", "-D", self._data, "-o", options, "-l", log, "-w", "start")

    def new_database(self) -> str:
        """Create an empty database and return its URL."""
        name = f"t{uuid.uuid4().hex[:12]}"
        engine = database.connect(self._url("postgres"))
        with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
            connection.exec_driver_sql(f"CREATE DATABASE {name}")
        engine.dispose()
        return self._url(name)

    def stop(self) -> None:
        """Stop the server and remove its folder."""
        self._call("pg_ctl", "-D", self._data, "-m", "immediate", "stop")
        shutil.rmtree(self._folder)

    def _url(self, name: str) -> str:
        return f"postgresql://snapline@/{name}?host={self._folder}"

    def _call(self, program: str, *arguments: object) -> None:
        command = [str(self._binaries / program), *map(str, arguments)]
        # pg_ctl leaves a server behind that would keep a pipe open: the output goes to a file.
        with tempfile.TemporaryFile() as said:
            done = subprocess.run(
                command, user=self._user, cwd="/", stdout=said, stderr=subprocess.STDOUT, check=False
            )
            said.seek(0)
            assert done.returncode == 0, said.read().decode()

    @staticmethod
    def _unprivileged_user() -> str:
        names = {entry.pw_name for entry in pwd.getpwall()}
        return "postgres" if "postgres" in names else "nobody"


def postgresql_binaries() -> Path | None:
    """Return the folder of initdb and pg_ctl, newest version first, or None."""
    found = Path("/usr/lib/postgresql").glob("*/bin")
    folders = sorted(found, key=lambda p: float(p.parent.name), reverse=True)
    on_path = shutil.which("initdb")
    folders += [Path(on_path).resolve().parent] if on_path else []
    return next((f for f in folders if (f / "initdb").exists() and (f / "pg_ctl").exists()), None)


@dataclass(frozen=True)
class Service:
    """A running service."""

    url: str
    settings: Settings
    process: subprocess.Popen[str]

    @contextlib.contextmanager
    def engine(self) -> Iterator[sa.Engine]:
        """Yield its database."""
        engine = database.connect(self.settings.database)
        yield engine
        engine.dispose()


@contextlib.contextmanager
def running(settings: Settings, *options: str, log: Path | None = None) -> Iterator[Service]:
    """Run the real service on a free port until the block ends; what it logs goes to ``log``."""
    command = [sys.executable, "-m", "snapline_service", "serve", "--port", "0", *options]
    variables = {**os.environ, **environment(settings), "PYTHONUNBUFFERED": "1"}
    with contextlib.ExitStack() as opened:
        said = opened.enter_context(log.open("w")) if log else None
        process = opened.enter_context(
            subprocess.Popen(command, stdout=subprocess.PIPE, stderr=said, text=True, env=variables)
        )
        assert process.stdout is not None
        found = re.match(r"SNAPLINE_URL=(\S+)", process.stdout.readline())
        assert found, "the service did not say where it is"
        try:
            yield Service(found[1], settings, process)
        finally:
            process.terminate()
