"""The visit as steps with times, reckoned by hand and held against its own rules at random."""

from itertools import pairwise
from random import Random

import pytest

from planning.visits import HANDLING, every_plan, random_acts, times
from snapline_service.planning.timeline import Chore, Schedule, schedule
from snapline_service.planning.values import Act, Item, Mode, Wait

BOARD = Item("board 1", "on the thrust line")
REFLECTOR = Item("reflector 1", "before the radar", carrier="stand 1")
CHORES = [
    Chore("hand_over", 5, driven=True),
    Chore("post_scan", 10),
    Chore("pre_scan", 10),
    Chore("preparation", 15),
]


def lines(visit: Schedule) -> list[tuple[str, str, float, float]]:
    return [(step.kind, step.id, step.start_min, step.end_min) for step in visit.steps]


def windscreen_visit(cure_end_min: float, *, board_waits: bool) -> Schedule:
    """A new windscreen and a refitted bumper: board and reflector in one bay, then the road for two."""
    cure = Wait("adhesive_cure", cure_end_min)
    held = frozenset({cure.id} if board_waits else ())
    acts = [
        Act("camera-board", "static", 35, waits=held, modes=(Mode("west", (frozenset({BOARD}),)),)),
        Act("radar-reflector", "static", 30, modes=(Mode("west", (frozenset({REFLECTOR}),)),)),
        Act("camera-drive", "dynamic", 25, people=2, after=frozenset({"camera-board", "radar-reflector"})),
    ]
    return schedule(acts, HANDLING, waits=[cure], chores=CHORES)


def test_the_radar_is_aimed_while_the_adhesive_cures() -> None:
    # By hand: lining up 12 and standing up 8 before the reflector, 8 for the board, which then waits.
    visit = windscreen_visit(120, board_waits=True)
    assert lines(visit) == [
        ("pre_scan", "pre_scan", 0, 10),
        ("preparation", "preparation", 10, 25),
        ("set_up", "radar-reflector", 25, 45),
        ("procedure", "radar-reflector", 45, 75),
        ("set_up", "camera-board", 75, 83),
        ("wait", "adhesive_cure", 83, 120),
        ("procedure", "camera-board", 120, 155),
        ("procedure", "camera-drive", 155, 180),
        ("post_scan", "post_scan", 180, 190),
        ("hand_over", "hand_over", 190, 195),
    ]
    assert (visit.total_min, visit.handling_min, visit.waited_min, visit.people) == (195, 28, 37, 2)


def test_both_are_aimed_before_the_drive_where_only_the_drive_waits() -> None:
    visit = windscreen_visit(120, board_waits=False)
    assert lines(visit)[2:8] == [
        ("set_up", "camera-board", 25, 45),
        ("procedure", "camera-board", 45, 80),
        ("set_up", "radar-reflector", 80, 88),
        ("procedure", "radar-reflector", 88, 118),
        ("wait", "adhesive_cure", 118, 120),
        ("procedure", "camera-drive", 120, 145),
    ]


def test_a_cure_that_is_over_in_time_delays_nothing() -> None:
    assert windscreen_visit(30, board_waits=True).waited_min == 0


def test_the_car_is_not_driven_away_before_the_adhesive_has_cured() -> None:
    visit = schedule(
        [Act("zero", "scan_tool", 5)], HANDLING, waits=[Wait("adhesive_cure", 60)], chores=CHORES
    )
    assert lines(visit)[2:] == [
        ("procedure", "zero", 25, 30),
        ("post_scan", "post_scan", 30, 40),
        ("wait", "adhesive_cure", 40, 60),
        ("hand_over", "hand_over", 60, 65),
    ]


def test_the_timeline_says_what_is_stood_up_moved_and_taken_away() -> None:
    chequer = Item("chequer 1", "before the camera", carrier="stand 1")
    board_aside = Item("board 1", "left of the car")
    acts = [
        Act("1", "static", 20, modes=(Mode("west", (frozenset({BOARD, REFLECTOR}),)),)),
        Act("2", "static", 20, after=frozenset("1"), modes=(Mode("west", (frozenset({BOARD, chequer}),)),)),
        Act("3", "static", 20, after=frozenset("2"), modes=(Mode("west", (frozenset({board_aside}),)),)),
    ]
    visit = schedule(acts, HANDLING)
    first, second, third = [step.changes[0] for step in visit.steps if step.kind == "set_up"]
    assert (first.lined_up, first.stood_up) == (True, (BOARD, REFLECTOR))
    assert (second.lined_up, second.kept, second.swapped) == (False, (BOARD,), (chequer,))
    assert second.taken_away == (REFLECTOR,)
    assert (third.shifted, third.taken_away) == ((board_aside,), (chequer,))
    assert visit.handling_min == (12 + 8 + 8) + 5 + 3


def test_a_second_stage_is_handled_within_its_procedure() -> None:
    stages = Mode("west", (frozenset({BOARD}), frozenset({REFLECTOR})))
    visit = schedule([Act("both", "static", 30, modes=(stages,))], HANDLING)
    assert lines(visit) == [("set_up", "both", 0, 20), ("procedure", "both", 20, 58)]
    assert visit.steps[1].changes[0].stood_up == (REFLECTOR,)


def test_nothing_is_left_standing_in_the_cars_way() -> None:
    # Common practice, no source: a car cannot drive out through a board, nor be handed over among fixtures.
    again = Mode("west", (frozenset({BOARD}),))
    acts = [
        Act("board", "static", 20, modes=(Mode("west", (frozenset({BOARD}),)),)),
        Act("drive", "dynamic", 25, after=frozenset({"board"})),
        Act("board-again", "static", 20, after=frozenset({"drive"}), modes=(again,)),
    ]
    visit = schedule(acts, HANDLING, chores=CHORES)
    away = {step.id: [one for change in step.changes for one in change.taken_away] for step in visit.steps}
    assert {of: items for of, items in away.items() if items} == {"drive": [BOARD], "post_scan": [BOARD]}


def test_chores_keep_the_order_of_the_job_however_they_are_given() -> None:
    kinds = (
        "intake",
        "pre_scan",
        "wheel_alignment",
        "preparation",
        "post_scan",
        "function_check",
        "hand_over",
    )
    chores = [Chore(kind, 5) for kind in reversed(kinds)]  # type: ignore[arg-type]
    steps = schedule([Act("zero", "scan_tool", 5)], HANDLING, chores=chores).steps
    assert [step.kind for step in steps] == [*kinds[:4], "procedure", *kinds[4:]]


@pytest.mark.parametrize("seed", range(150))
def test_every_timeline_is_without_a_gap_keeps_the_rules_and_ends_first(seed: int) -> None:
    rng = Random(seed)
    cure = Wait("adhesive_cure", rng.choice((30.0, 90.0, 160.0)))
    acts = random_acts(rng, rng.randint(1, 4), waits=[cure])
    visit = schedule(acts, HANDLING, waits=[cure], chores=CHORES)
    steps, by_id = visit.steps, {act.id: act for act in acts}
    assert steps[0].start_min == 0
    assert all(before.end_min == after.start_min for before, after in pairwise(steps))
    procedures = [step for step in steps if step.kind == "procedure"]
    assert sorted(step.id for step in procedures) == sorted(by_id)
    for number, step in enumerate(procedures):
        act = by_id[step.id]
        assert act.after <= {earlier.id for earlier in procedures[:number]}
        if act.method == "dynamic" or act.waits:
            assert step.start_min >= cure.end_min
    # After the best order: the scan of 10, and the hand-over of 5 once the adhesive has cured.
    earliest_min = min(times(plan, [cure], 25)[0] for plan in every_plan(acts))
    assert visit.total_min == max(earliest_min + 10, cure.end_min) + 5
    assert visit.total_min - visit.waited_min == 10 + 15 + 10 + 5 + visit.handling_min + sum(
        act.minutes for act in acts
    )
