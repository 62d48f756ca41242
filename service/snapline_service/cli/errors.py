"""Errors at the command line: the domain's words, never a traceback for a mistake that can be mended."""

from typing import Any

import click
import sqlalchemy as sa
from alembic.util import CommandError

from snapline_service.errors import BadInput, Fault, SnaplineError

_COMMANDS = {
    "GET /v1/drafts": "snapline catalogue drafts",
    "GET /v1/revisions": "snapline catalogue revisions",
    "POST …/conflicts/{number}": "snapline catalogue settle",
}


class Plain(click.Group):
    """A group of commands that turns domain errors into messages."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command."""
        try:
            return super().invoke(ctx)
        except BadInput as error:
            raise click.ClickException(_here("\n".join(map(_told, error.faults)))) from error
        except SnaplineError as error:
            raise click.ClickException(_here(f"{error.detail} {error.mend}".strip())) from error
        except sa.exc.ProgrammingError as error:
            message = f"The database has another schema: {error.orig}. Run: snapline migrate"
            raise click.ClickException(message) from error
        except sa.exc.DatabaseError as error:
            message = (
                f"The database cannot be used: {error.orig}. Is it there, and was 'snapline migrate' run?"
            )
            raise click.ClickException(message) from error
        except (sa.exc.ArgumentError, CommandError, ModuleNotFoundError) as error:
            raise click.ClickException(str(error)) from error
        except OSError as error:
            raise click.ClickException(f"{error.filename}: {error.strerror}.") from error


def _here(text: str) -> str:
    """Return a message with the commands that do at the command line what it names for HTTP."""
    for request, command in _COMMANDS.items():
        text = text.replace(request, command)
    return text


def _told(fault: Fault) -> str:
    at = f"{fault.pointer}: " if fault.pointer else ""
    return f"{at}{fault.detail} {fault.mend}".strip()
