"""Bay fit beside a grid of places every 20 mm, which is what one would write first."""

import statistics
from itertools import cycle

import numpy as np

from benchmarks.measuring import alternate, own_us
from benchmarks.report import Limit, Report
from geometry.bay_fit.reference import grid, parts_of, rectangle
from snapline_service.geometry.bay_fit import (
    Bay,
    Obstacle,
    Part,
    Procedure,
    fewest_stands,
    fits,
    room_of,
    roomiest_stand,
    shortfalls,
)

DECISION_MS = Limit(2)
FEWEST_POSES_MS = Limit(50)
PAIRS_PER_S = Limit(2_000, more_is_better=True)

_HEADINGS = (0.0, 180.0)
_VEHICLES = 200


def measure(table: Report, rounds: int) -> None:
    """Add the CPU time of each question about a bay with two posts, six procedures and 15 parts."""
    procedures = [_procedures(seed) for seed in range(_VEHICLES)]
    wide, tight = _bay(13_800, 8_200), _bay(8_800, 5_200)
    prepared, scarce = room_of(wide), room_of(tight)
    asked = cycle(procedures)
    took_us = alternate(
        {
            "preparation of a bay": own_us(lambda: room_of.__wrapped__(wide), 20),
            "decision, all procedures": own_us(lambda: fits(wide, _HEADINGS, next(asked)), 50),
            "roomiest pose": own_us(lambda: roomiest_stand(prepared, next(asked), _HEADINGS), 20),
            "fewest poses": own_us(lambda: fewest_stands(scarce, next(asked), _HEADINGS), 5),
            "shortfall of every wall": own_us(lambda: list(shortfalls(tight, next(asked), _HEADINGS)), 5),
            "decision by a grid of 20 mm": own_us(lambda: _by_grid(wide, next(asked)), 1),
        },
        rounds,
    )
    table.section("Bay fit: six procedures, two headings, two posts; a grid for comparison")
    limits = {"decision, all procedures": DECISION_MS, "fewest poses": FEWEST_POSES_MS}
    for name, us in took_us.items():
        table.add(name, us / 1000, "ms", limits.get(name))
    pairs_per_s = 1e6 / took_us["decision, all procedures"]
    table.add("vehicles in a prepared bay", pairs_per_s, "a second", PAIRS_PER_S)
    each_ms = sorted(
        own_us(lambda some=some: fewest_stands(scarce, some, _HEADINGS), 1)() / 1000  # type: ignore[misc]
        for some in procedures
    )
    table.add("fewest poses, p95 of vehicles", each_ms[len(each_ms) * 95 // 100], "ms", FEWEST_POSES_MS)
    several = statistics.mean(len(fewest_stands(scarce, some, _HEADINGS)[0]) for some in procedures)
    table.add("poses needed in the tight bay, mean", several, "")


def _by_grid(bay: Bay, procedures: list[Procedure]) -> bool:
    return any(grid(bay, parts_of(procedures), heading, 20.0)[0] >= 0.0 for heading in _HEADINGS)


def _bay(length_mm: float, width_mm: float) -> Bay:
    middle = length_mm / 2
    posts = [rectangle(middle, y, middle + 350, y + 350) for y in (300, width_mm - 650)]
    return Bay(rectangle(0, 0, length_mm, width_mm), tuple(Obstacle(post) for post in posts))


def _procedures(seed: int) -> list[Procedure]:
    """Return what is done to an invented car: each procedure needs the car and things around it."""
    dice = np.random.default_rng(seed)
    front, side = dice.uniform(3300, 3900), dice.uniform(820, 980)
    car = Part("car", "solid", rectangle(-950, -side, front, side), 0.0, dice.uniform(1400, 2100))
    near, far = front + dice.uniform(1300, 1600), front + dice.uniform(2300, 2700)
    things = {
        "front camera": [
            Part("board", "solid", rectangle(near, -1200, near + 200, 1200), 0.0, 2000.0),
            Part("way round", "walking_margin", rectangle(near + 200, -1500, near + 800, 1500)),
        ],
        "front radar": [
            Part("reflector", "solid", rectangle(far, -150, far + 300, 150), 0.0, 900.0),
            Part("clear zone", "clear_zone", rectangle(front, -1300, far, 1300)),
        ],
        "left camera": [Part("mat", "solid", rectangle(500, side + 400, 2500, side + 1400), 0.0, 10.0)],
        "right camera": [Part("mat", "solid", rectangle(500, -side - 1400, 2500, -side - 400), 0.0, 10.0)],
        "rear camera": [
            Part("mat", "solid", rectangle(-3400, -1000, -1900, 1000), 0.0, 10.0),
            Part("way round", "walking_margin", rectangle(-3900, -1000, -3400, 1000)),
        ],
        "rear radar": [Part("simulator", "solid", rectangle(-3200, 1200, -2900, 1500), 0.0, 1200.0)],
    }
    return [Procedure(name, (car, *others)) for name, others in things.items()]
