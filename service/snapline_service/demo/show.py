"""Run the main job against the real service, through the SDK, and show it."""

import json
import os
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import click
from rich.console import Console
from rich.table import Table

from snapline import Snapline
from snapline.errors import SnaplineError
from snapline.wire.vehicles import Candidate, Identification, Vehicle
from snapline_service import places
from snapline_service.demo import placing, visiting

TIME_LIMIT_S = 10.0
VEHICLE = "mirandeux-celadine-2023-eu"
ANSWERS = {"option:corner_radars": "yes"}
PROCEDURE = "rear-radars-reflectors"


def run(drawing: Path, out: Console) -> None:
    """Show the job from a VIN to a drawing. Raises ClickException if any step fails."""
    with _service() as (url, key), Snapline(url, key) as client:
        try:
            _show(client, drawing, out)
        except SnaplineError as error:
            message = f"The service could not answer: {error}"
            raise click.ClickException(message) from error


def _show(client: Snapline, drawing: Path, out: Console) -> None:
    out.print("[bold]Everything below is invented. Never aim a real car with these figures.[/bold]\n")
    vin = json.loads((places.demo_fixtures() / "example_vins.json").read_text())["vins"][VEHICLE]
    first = client.vehicles.identify(vin=vin)
    out.print(_identified(vin, first))
    answered = client.vehicles.identify(vin=vin, answers=ANSWERS)
    candidate = answered.candidates[0]
    out.print(_fitted(candidate))
    vehicle = client.vehicles.get(candidate.vehicle.id)
    out.print(_needs(vehicle))
    setup = client.setups.compute(vehicle_id=vehicle.id, procedure_id=PROCEDURE)
    fixture = next(item.fixture for stage in setup.stages for item in stage.placements if item.fixture)
    out.print(_served(client, fixture.id, fixture.name))
    out.print(placing.coordinates(setup))
    placing.details(setup, out)
    drawing.write_text(client.setups.drawing(vehicle_id=vehicle.id, procedure_id=PROCEDURE))
    sheet = drawing.with_suffix(".html")
    sheet.write_text(client.setups.sheet_html(vehicle_id=vehicle.id, procedure_id=PROCEDURE))
    out.print(placing.tapes(setup))
    out.print(placing.proof(client, setup))
    visit = visiting.request(vehicle.id)
    plan = client.visits.plan(visit)
    out.print(visiting.scope(plan))
    out.print(visiting.sites(plan))
    out.print(visiting.order(plan))
    plan_sheet = drawing.with_name(f"{drawing.stem}-visit.pdf")
    plan_sheet.write_bytes(client.visits.sheet_pdf(visit))
    out.print(f"\nDrawing to scale: [bold]{drawing.resolve()}[/bold]")
    out.print(f"Sheet to set out by: [bold]{sheet.resolve()}[/bold]")
    out.print(f"Plan of the visit: [bold]{plan_sheet.resolve()}[/bold]")


def _identified(vin: str, found: Identification) -> Table:
    table = Table("what", "answer", title="1  Which car is it?", title_justify="left")
    decoded = found.vin
    if decoded:
        years = " or ".join(map(str, decoded.model_years))
        table.add_row("VIN", f"{vin}: manufacturer code {decoded.wmi}, {decoded.region}, year code {years}")
        table.add_row("check digit", decoded.check_digit.replace("_", " "))
    for candidate in found.candidates:
        car = candidate.vehicle
        name = f"{car.make} {car.model}, {car.body}, from {car.model_year_first} ({car.id})"
        table.add_row("candidate", name)
    for question in found.questions:
        table.add_row("question", f"{question.text} {question.how_to_see}")
    return table


def _fitted(candidate: Candidate) -> Table:
    table = Table("system", "fitted", "because", title="\n2  What is fitted?", title_justify="left")
    for system in candidate.systems:
        table.add_row(system.name, system.fitted, system.because)
    return table


def _needs(vehicle: Vehicle) -> Table:
    table = Table("system", "way", "procedures", title="\n3  What do its systems need?", title_justify="left")
    names = {procedure.id: f"{procedure.name} ({procedure.method})" for procedure in vehicle.procedures}
    for system in vehicle.systems:
        ways = [way for requirement in system.requirements for way in requirement.alternatives]
        for number, way in enumerate(ways, 1):
            label = way.name if len(ways) == 1 else f"{number} of {len(ways)}: {way.name}"
            table.add_row(system.name, label, ", then ".join(names[name] for name in way.procedures))
        if not ways:
            table.add_row(system.name, "no rule: look in the maker's procedure", "")
    return table


def _served(client: Snapline, fixture_id: str, name: str) -> Table:
    title = f"\n4  Which vehicles does it serve: {name}?"
    table = Table("vehicle", "system", "how", "match", title=title, title_justify="left")
    for item in client.fixtures.vehicles(fixture_id):
        last = item.model_year_last or "today"
        for use in item.uses:
            car = f"{item.make} {item.model} {item.model_year_first}–{last}"
            table.add_row(car, use.system_kind.replace("_", " "), use.role.replace("_", " "), use.match)
    return table


@contextmanager
def _service() -> Iterator[tuple[str, str]]:
    """Start the service in a process of its own; stop it at the end, or when time is up."""
    command = [sys.executable, "-m", "snapline_service", "serve", "--demo", "--port", "0"]
    environment = {**os.environ, "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment) as process:  # noqa: S603
        guard = threading.Timer(TIME_LIMIT_S, process.kill)
        guard.start()
        try:
            said = dict(_settings(process))
            if "SNAPLINE_URL" not in said or "SNAPLINE_KEY" not in said:
                message = "The service did not start; what it said stands above."
                raise click.ClickException(message)
            yield said["SNAPLINE_URL"], said["SNAPLINE_KEY"]
        finally:
            guard.cancel()
            process.terminate()


def _settings(process: subprocess.Popen[str]) -> Iterator[tuple[str, str]]:
    """Read what the service prints until it has said where it is and with which key."""
    for line in process.stdout or ():
        name, _, value = line.strip().partition("=")
        yield name, value
        if name == "SNAPLINE_KEY":
            return
