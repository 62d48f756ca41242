"""A whole visit's plan beside a naive one: a 20 mm grid in every bay, and every order tried."""

import statistics
import time
from itertools import permutations
from pathlib import Path
from tempfile import TemporaryDirectory

from benchmarks.report import Limit, Report
from geometry.bay_fit.reference import grid
from service.catalogue.demo import SITES, VEHICLES
from snapline.offline import RevisionFile
from snapline.wire import sites as wire
from snapline.wire.scope import RepairLine
from snapline.wire.visits import VisitRequest
from snapline_service import database, settings
from snapline_service.demo import scenario
from snapline_service.geometry.bay_fit import Bay, Obstacle, Part, space
from snapline_service.visits import choices, rooms
from snapline_service.visits.fitted import FittedCar
from snapline_service.visits.job import Job
from snapline_service.visits.plan import Group, plan
from snapline_service.visits.scope import scope_of

ONE_SITE_MS, FOUR_SITES_MS = Limit(25), Limit(60)
PLANS_PER_S = Limit(60, more_is_better=True)
_DAY = "2027-06-15"
_NAIVE = "mirandeux-celadine-2023-eu"


def measure(table: Report) -> None:
    """Add the CPU time of plans for every demo vehicle, each planned for the first time, and a naive one."""
    with TemporaryDirectory() as folder:
        file, group = _demo(Path(folder)), Group(tuple(SITES), {})
        four, again = _times_ms(file, group, ()), _times_ms(file, group, (), forget=False)
        one = _times_ms(file, group, ("mill-road",))
        naive_ms = _naive_ms(file)
    table.section("Plans of visits: every demo vehicle, all that any rule calls for")
    table.add("plan at 4 sites, median", statistics.median(four), "ms", FOUR_SITES_MS)
    table.add("plan at 4 sites, p90", sorted(four)[len(four) * 9 // 10], "ms", FOUR_SITES_MS)
    table.add("plan at 1 site, p90", sorted(one)[len(one) * 9 // 10], "ms", ONE_SITE_MS)
    table.add("plans a second, 4 sites, cars not seen before", 1000 * len(four) / sum(four), "", PLANS_PER_S)
    table.add("plans a second, 4 sites, cars seen before", 1000 * len(again) / sum(again), "", PLANS_PER_S)
    table.add("naive plan of one car at one site", naive_ms, "ms", note="20 mm grid, all orders")


def _demo(folder: Path) -> RevisionFile:
    chosen = settings.load(f"sqlite:///{folder / 'demo.db'}")
    database.migrate(chosen.database)
    scenario.load(chosen)
    (path,) = chosen.data_folder.glob("*/revision-2.sqlite")
    return RevisionFile(path)


def _request(vehicle_id: str, sites: tuple[str, ...]) -> VisitRequest:
    vehicle = VEHICLES[vehicle_id]
    lines = {
        (rule.operation, rule.extent)
        for system in vehicle.systems
        for rule in system.disturbances
        if rule.effect == "called_for"
    }
    return VisitRequest(
        vehicle_id=vehicle_id,
        operations=tuple(RepairLine(operation=name, extent=how) for name, how in sorted(lines, key=str)),
        options={option.id: "yes" for option in vehicle.options if not option.choice},
        answers={f"choice:{o.choice}": o.id for o in reversed(vehicle.options) if o.choice},
        date=_DAY,
        sites=sites,
    )


def _times_ms(
    file: RevisionFile, group: Group, sites: tuple[str, ...], *, forget: bool = True
) -> list[float]:
    plan(file, group, _request(_NAIVE, sites))
    if forget:
        space._space_alone.cache_clear()
        space._free.cache_clear()
        rooms._what_would_help.cache_clear()
    took = []
    for vehicle_id in VEHICLES:
        before_s = time.process_time()
        plan(file, group, _request(vehicle_id, sites))
        took.append((time.process_time() - before_s) * 1000)
    return took


def _naive_ms(file: RevisionFile) -> float:
    """Search every bay of a site on a grid for a pose of all procedures, then try all orders."""
    vehicle, request = file.get_vehicle(_NAIVE), _request(_NAIVE, ())
    assert vehicle is not None
    before_s = time.process_time()
    car = FittedCar(vehicle, options=request.options, build_codes=(), answers=request.answers)
    scope = scope_of(file, car, request.operations, answers={}, changes={})
    needs = choices.needs_of(vehicle, scope, plan_conditional=True)
    job = Job(file, request, vehicle, scope, needs)
    static = [procedure for procedure in job.procedures.values() if procedure.method == "static"]
    parts = [part for one in static for part in job.room_for(one, (), slack=False).parts]
    for bay in next(site for site in SITES if site.id == "mill-road").bays:
        _on_a_grid(bay, parts)
    min(permutations(job.procedures), key=len)
    return (time.process_time() - before_s) * 1000


def _on_a_grid(bay: wire.Bay, parts: list[Part]) -> float:
    obstacles = tuple(Obstacle(one.polygon, one.z_min_mm, one.z_max_mm) for one in bay.obstacles)
    return max(grid(Bay(bay.ring, obstacles), parts, heading, 20.0)[0] for heading in bay.headings_deg)
