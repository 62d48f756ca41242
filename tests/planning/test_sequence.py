"""The order of acts: what a workshop would expect of it."""

import pytest

from planning.visits import HANDLING
from snapline_service.errors import InvalidValue
from snapline_service.planning.precedence import PrecedenceCycle
from snapline_service.planning.sequence import best_order
from snapline_service.planning.values import Act, Item, Mode, Wait


def static(id_: str, *modes: Mode, after: frozenset[str] = frozenset()) -> Act:
    return Act(id_, "static", minutes=20, modes=modes, after=after)


def at(pose: str, *items: Item) -> Mode:
    return Mode(pose, (frozenset(items),))


BOARD = Item("board", "ahead")
REFLECTOR = Item("reflector", "low ahead", carrier="stand")
CHEQUER = Item("chequer", "ahead", carrier="stand")
DRIVE = Act("drive", "dynamic", minutes=25, people=2)
SCAN = Act("zero", "scan_tool", minutes=5)


def ids(*acts: Act) -> list[str]:
    return [act.id for act, _ in best_order(acts, HANDLING).acts]


def test_acts_that_share_a_fixture_follow_one_another() -> None:
    acts = static("a", at("p", BOARD)), static("b", at("p", REFLECTOR)), static("c", at("p", BOARD))
    order = best_order(acts, HANDLING)
    assert [act.id for act, _ in order.acts] in (["a", "c", "b"], ["b", "a", "c"])
    assert order.handling_min == 12 + 8 + 8
    assert order.end_min == order.handling_min + 3 * 20


def test_acts_at_one_pose_follow_one_another() -> None:
    acts = static("a", at("p", BOARD)), static("b", at("q", REFLECTOR)), static("c", at("p", CHEQUER))
    assert ids(*acts) in (["a", "c", "b"], ["c", "a", "b"], ["b", "a", "c"], ["b", "c", "a"])


def test_a_stand_that_is_there_already_saves_setting_it_up() -> None:
    order = best_order([static("a", at("p", REFLECTOR)), static("b", at("p", CHEQUER))], HANDLING)
    assert order.handling_min == 12 + 8 + 5


def test_the_mode_is_chosen_that_others_can_share() -> None:
    either = static("a", at("p", BOARD), at("q", BOARD))
    order = best_order([either, static("b", at("q", BOARD))], HANDLING)
    assert {mode.pose for _, mode in order.acts if mode} == {"q"}
    assert order.handling_min == 12 + 8


def test_the_first_mode_is_taken_where_it_makes_no_difference() -> None:
    order = best_order([static("a", at("q", BOARD), at("p", BOARD))], HANDLING)
    assert [mode.pose for _, mode in order.acts if mode] == ["q"]


def test_after_a_drive_everything_is_set_up_again() -> None:
    chain = static("a", at("p", BOARD)), DRIVE, static("b", at("p", BOARD), after=frozenset({"drive"}))
    assert ids(*chain)[0] == "drive"  # because then a and b stand together
    forced = [chain[0], Act("drive", "dynamic", 25, after=frozenset({"a"})), chain[2]]
    assert best_order(forced, HANDLING).handling_min == 2 * (12 + 8)


def test_a_scan_leaves_standing_what_stands() -> None:
    between = Act("zero", "scan_tool", 5, after=frozenset({"a"}))
    acts = static("a", at("p", BOARD)), between, static("b", at("p", BOARD), after=frozenset({"zero"}))
    order = best_order(acts, HANDLING)
    assert [act.id for act, _ in order.acts] == ["a", "zero", "b"]
    assert order.handling_min == 12 + 8


def test_fixtures_that_stand_at_the_end_of_an_act_serve_the_next_one() -> None:
    two_stages = static("a", Mode("p", (frozenset({BOARD}), frozenset({REFLECTOR}))))
    order = best_order([two_stages, static("b", at("p", REFLECTOR)), static("c", at("p", BOARD))], HANDLING)
    assert [act.id for act, _ in order.acts] == ["c", "a", "b"]
    assert order.handling_min == 12 + 8 + 8


def test_work_is_done_while_adhesive_cures() -> None:
    cure = Wait("adhesive_cure", end_min=60)
    order = best_order([DRIVE, static("a", at("p", BOARD)), SCAN], HANDLING, waits=[cure])
    assert [act.id for act, _ in order.acts][-1] == "drive"
    assert order.end_min == 60 + 25


def test_a_fixture_is_stood_up_while_its_act_waits() -> None:
    waiting = Act("a", "static", 20, waits=frozenset({"adhesive_cure"}), modes=(at("p", BOARD),))
    order = best_order([waiting], HANDLING, waits=[Wait("adhesive_cure", end_min=60)])
    assert order.end_min == 60 + 20


def test_what_is_not_done_in_this_visit_holds_nothing_up() -> None:
    assert ids(static("a", at("p", BOARD), after=frozenset({"not done"}))) == ["a"]


def test_equal_orders_come_out_the_same_however_they_are_asked_for() -> None:
    acts = [static(name, at("p", BOARD)) for name in "abcdef"]
    assert ids(*acts) == ids(*reversed(acts)) == ids(*acts[3:], *acts[:3]) == list("abcdef")


def test_no_acts_take_no_time() -> None:
    order = best_order([], HANDLING, start_min=7)
    assert (order.acts, order.end_min, order.proven) == ((), 7, True)


def test_acts_that_wait_for_one_another_are_named() -> None:
    ring = [
        static("b", at("p", BOARD), after=frozenset({"a"})),
        static("c", at("p", BOARD), after=frozenset({"b"})),
        static("a", at("p", BOARD), after=frozenset({"c"})),
        SCAN,
    ]
    with pytest.raises(PrecedenceCycle) as raised:
        best_order(ring, HANDLING)
    assert raised.value.acts == ("a", "b", "c")
    assert str(raised.value) == "a before b before c before a"


def test_a_static_act_that_cannot_be_set_up_is_refused() -> None:
    with pytest.raises(InvalidValue, match="'a' is static"):
        best_order([static("a")], HANDLING)


def test_more_acts_than_a_visit_can_have_are_refused() -> None:
    with pytest.raises(InvalidValue, match="62"):
        best_order([Act(f"scan-{number}", "scan_tool", 5) for number in range(63)], HANDLING)
