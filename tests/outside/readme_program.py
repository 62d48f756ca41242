"""Look a car up and compute where the fixtures of one procedure stand, as a shop-management plug-in does."""

import sys

from snapline import ProblemError, Snapline


def say(line: str) -> None:
    sys.stdout.write(line + "\n")


def look_up(client: Snapline, make: str) -> str:
    fullest = max(client.vehicles.list(make=make), key=lambda entry: len(entry.systems))
    car = client.vehicles.get(fullest.id)
    names = {procedure.id: f"{procedure.name} ({procedure.method})" for procedure in car.procedures}
    say(f"{car.make} {car.model}, {car.id}")
    for system in car.systems:
        for way in (way for requirement in system.requirements for way in requirement.alternatives):
            say(f"  {system.name} | {way.name} | {', then '.join(names[name] for name in way.procedures)}")
    return car.id


def set_up(client: Snapline, vehicle_id: str, procedure_id: str, measured: dict[str, float]) -> None:
    setup = client.setups.compute(vehicle_id=vehicle_id, procedure_id=procedure_id, measured=measured)
    for item in (item for stage in setup.stages for item in stage.placements):
        say(f"{item.sentence} x {item.in_vehicle.x_mm:.1f} mm, y {item.in_vehicle.y_mm:.1f} mm")
        if item.fixture is not None:
            served = client.fixtures.vehicles(item.fixture.id)
            say(f"  {item.fixture.name} | {', '.join(entry.vehicle_id for entry in served)}")
    for text in (*setup.assumed, *(caution.text for caution in setup.cautions)):
        say(f"! {text}")


with Snapline() as client:
    car_id = look_up(client, "Mirandeux")
    try:
        for procedure_id in ("radar-reflector", "radar-reflektor"):
            set_up(client, car_id, procedure_id, {"vehicle.wheelbase_mm": 3174.0})
    except ProblemError as problem:
        say("\n".join(f"{problem.code} {fault.pointer}: {fault.detail}" for fault in problem.errors))
