"""The command that writes a sheet."""

import math
from pathlib import Path

import click

from snapline import Snapline
from snapline.errors import SnaplineError
from snapline.wire.setup_setting_out import Units
from snapline.wire.setups import Paper, SetupRequest
from snapline_service.cli.options import out

_KINDS = (".pdf", ".html", ".svg")


@click.command()
@click.argument("vehicle_id", metavar="VEHICLE")
@click.argument("procedure_id", metavar="PROCEDURE")
@click.option(
    "--measured",
    "readings",
    metavar="NAME=VALUE",
    multiple=True,
    help="A reading taken on the car, such as vehicle.front_overhang_mm=905; may be given several times.",
)
@click.option(
    "--units",
    type=click.Choice(["mm", "in"]),
    default="mm",
    show_default=True,
    help="Figures in millimetres, or in inches and sixteenths.",
)
@click.option(
    "--paper",
    type=click.Choice(["a4", "letter"]),
    default="a4",
    show_default=True,
    help="What it is printed on.",
)
@click.option("--stage", "drawn_stage", help="The stage that an .svg shows. Default: the first.")
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path, dir_okay=False),
    help="A file named .pdf, .html or .svg. Default: VEHICLE-PROCEDURE.pdf here.",
)
def sheet(
    *,
    vehicle_id: str,
    procedure_id: str,
    readings: tuple[str, ...],
    units: Units,
    paper: Paper,
    drawn_stage: str | None,
    output: Path | None,
) -> None:
    """Write the sheet from which a person with a tape sets out PROCEDURE on VEHICLE.

    It is asked of the service that the environment's SNAPLINE_URL and SNAPLINE_KEY name, for example one that
    `snapline serve --demo` runs. A .pdf or .html holds every stage, an .svg the plan of one.
    """
    path = output or Path(f"{vehicle_id}-{procedure_id}.pdf")
    if path.suffix not in _KINDS:
        message = f"'{path.name}' does not end in {', '.join(_KINDS[:-1])} or {_KINDS[-1]}."
        raise click.BadParameter(message, param_hint="--output")
    request = SetupRequest(
        vehicle_id=vehicle_id,
        procedure_id=procedure_id,
        measured=dict(map(_reading, readings)),
        units=units,
        paper=paper,
        drawn_stage=drawn_stage,
    )
    try:
        with Snapline() as client:
            if drawn_stage:
                client.setups.drawing(request)  # of whatever kind the file is: it refuses an unknown stage
            path.write_bytes(_written(client, request, path.suffix))
    except SnaplineError as error:
        raise click.ClickException(str(error)) from error
    out.print(f"Wrote {path}.")


def _written(client: Snapline, request: SetupRequest, kind: str) -> bytes:
    if kind == ".pdf":
        return client.setups.sheet_pdf(request)
    page = client.setups.sheet_html(request) if kind == ".html" else client.setups.drawing(request)
    return page.encode()


def _reading(text: str) -> tuple[str, float]:
    name, _, value = text.partition("=")
    try:
        number = float(value)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        message = f"'{text}' is not NAME=VALUE with a number."
        raise click.BadParameter(message, param_hint="--measured")
    return name.strip(), number
