"""Scope: four answers, and never a 'no' where nobody has said so.

The rules are those of the trade (common practice, no source): what a repair disturbs is what a source says it
disturbs; what no source mentions is looked up in the maker's procedure.
"""

from collections.abc import Callable
from typing import Any

import pytest

from service import small
from service.shop import Shop
from snapline.offline import RevisionFile
from snapline.wire.scope import RepairLine, Scope, SystemScope
from snapline_service.errors import InvalidValue, UnknownName
from snapline_service.visits.fitted import FittedCar
from snapline_service.visits.scope import scope_of


def rule(effect: str, **fields: Any) -> small.Document:
    return {
        "operation": "windscreen",
        "effect": effect,
        "reason": "So it is.",
        "source": small.quoted("row"),
        **fields,
    }


@pytest.fixture(scope="module")
def publish(new_shop: Callable[[], Shop]) -> Callable[..., RevisionFile]:
    """Publish a car whose camera has the given rules."""

    def make(*rules: small.Document, **fields: Any) -> RevisionFile:
        shop, car = new_shop(), {**small.vehicle(), **fields}
        car["systems"][0]["disturbances"] = list(rules)
        mirror = {**small.operation("mirror"), "extents": ["replaced"], "synonyms": ["door mirror"]}
        return shop.file(shop.put([small.source(), small.operation(), mirror, small.fixture(), car]))

    return make


def ask(
    file: RevisionFile,
    *lines: tuple[str, str | None],
    options: dict[str, str] | None = None,
    answers: dict[str, str] | None = None,
    changes: dict[str, str] | None = None,
) -> Scope:
    vehicle = file.get_vehicle("ambrel-2020")
    assert vehicle is not None
    fitted = {"camera": "yes"} if options is None else options
    car = FittedCar(vehicle, options=fitted, build_codes=(), answers=answers or {})
    repair = [RepairLine(operation=operation, extent=extent) for operation, extent in lines]
    return scope_of(file, car, repair, answers=answers or {}, changes=changes or {})


def camera(scope: Scope) -> SystemScope:
    (system,) = scope.systems
    return system


def test_what_a_source_calls_for_is_called_for_with_its_reason_and_source(publish: Any) -> None:
    system = camera(ask(publish(rule("called_for", reason="New glass.")), ("windscreen", "replaced")))
    assert (system.answer, system.requirements) == ("called_for", ("aim",))
    assert system.reasons[0].reason == "New glass."
    assert system.reasons[0].source is not None
    assert system.reasons[0].source.source == "manual"


def test_a_no_is_a_no_only_when_a_source_says_it(publish: Any) -> None:
    file = publish(rule("not_called_for"))
    assert camera(ask(file, ("windscreen", None))).answer == "not_called_for"
    assert camera(ask(file, ("mirror", None))).answer == "no_rule"


def test_an_operation_without_a_rule_beside_one_with_a_no_leaves_no_rule(publish: Any) -> None:
    """Nobody has said anything of the mirror, so nobody has said no."""
    system = camera(ask(publish(rule("not_called_for")), ("windscreen", None), ("mirror", None)))
    assert system.answer == "no_rule"
    assert [reason.effect for reason in system.reasons] == ["not_called_for", "no_rule"]


def test_one_calibration_serves_several_reasons(publish: Any) -> None:
    mirror = {**rule("called_for"), "operation": "mirror"}
    system = camera(ask(publish(rule("called_for"), mirror), ("windscreen", None), ("mirror", None)))
    assert len(system.reasons) == 2
    assert system.requirements == ("aim",)


def test_a_conditional_rule_asks_its_question_and_the_answer_decides(publish: Any) -> None:
    file = publish(rule("conditional", question="Was the bracket moved?"))
    open_scope = ask(file, ("windscreen", "replaced"))
    (question,) = [one for one in open_scope.questions if one.decides == "operation"]
    assert camera(open_scope).answer == "conditional"
    assert camera(open_scope).questions == (question.id,)
    answers = {
        reply: camera(ask(file, ("windscreen", "replaced"), answers={question.id: reply})).answer
        for reply in ("yes", "no", "cannot_tell")
    }
    assert answers == {"yes": "called_for", "no": "not_called_for", "cannot_tell": "conditional"}


def test_an_answer_that_is_none_is_refused_and_says_which_there_are(publish: Any) -> None:
    file = publish(rule("conditional", question="Was the bracket moved?"))
    name = camera(ask(file, ("windscreen", "replaced"))).questions[0]
    with pytest.raises(InvalidValue) as refused:
        ask(file, ("windscreen", "replaced"), answers={name: "perhaps"})
    assert refused.value.pointer == f"/answers/{name}"
    assert "cannot_tell" in refused.value.mend


def test_a_question_about_nothing_here_is_named_and_not_swallowed(publish: Any) -> None:
    scope = ask(publish(rule("called_for")), ("windscreen", None), answers={"rule:roof:12345678": "yes"})
    assert "rule:roof:12345678" in scope.notes[0]


def test_an_extent_is_asked_only_where_the_rules_differ_by_it(publish: Any) -> None:
    differing = publish(
        rule("called_for", extent="replaced"), rule("not_called_for", extent="removed_and_refitted")
    )
    system = camera(ask(differing, ("windscreen", None)))
    assert (system.answer, system.questions) == ("conditional", ("extent:windscreen",))
    settled = ask(differing, ("windscreen", None), answers={"extent:windscreen": "removed_and_refitted"})
    assert camera(settled).answer == "not_called_for"
    agreeing = publish(
        rule("called_for", extent="replaced"), rule("called_for", extent="removed_and_refitted")
    )
    assert camera(ask(agreeing, ("windscreen", None))).answer == "called_for"


def test_a_rule_for_the_extent_goes_before_one_for_any(publish: Any) -> None:
    file = publish(rule("called_for"), rule("not_called_for", extent="removed_and_refitted"))
    assert camera(ask(file, ("windscreen", "removed_and_refitted"))).answer == "not_called_for"
    assert camera(ask(file, ("windscreen", "replaced"))).answer == "called_for"


def test_an_extent_that_the_operation_never_has_is_refused(publish: Any) -> None:
    with pytest.raises(InvalidValue) as refused:
        ask(publish(rule("called_for")), ("mirror", None), ("windscreen", "deployed"))
    assert refused.value.pointer == "/operations/1/extent"
    assert "replaced" in refused.value.mend


def test_unknown_equipment_makes_it_conditional_and_asks_how_to_see(publish: Any) -> None:
    scope = ask(publish(rule("called_for")), ("windscreen", None), options={})
    assert (camera(scope).fitted, camera(scope).answer) == ("unknown", "conditional")
    (question,) = [one for one in scope.questions if one.decides == "equipment"]
    assert (question.id, question.how_to_see) == ("option:camera", "Look behind the mirror.")


def test_unknown_equipment_does_not_matter_where_a_source_says_no(publish: Any) -> None:
    scope = ask(publish(rule("not_called_for")), ("windscreen", None), options={})
    assert camera(scope).answer == "not_called_for"
    assert not [one for one in scope.questions if one.decides == "equipment"]


def test_what_is_not_fitted_has_no_answer(publish: Any) -> None:
    system = camera(ask(publish(rule("called_for")), ("windscreen", None), options={"camera": "no"}))
    assert (system.fitted, system.answer, system.reasons) == ("no", None, ())


def test_trade_terms_in_any_spelling_are_understood(publish: Any) -> None:
    file = publish(rule("called_for"))
    for term in ("windscreen", "Windscreen", "front glass", "FRONT-GLASS"):
        assert ask(file, (term, None)).operations[0].operation == "windscreen"


def test_an_unknown_operation_is_named_with_the_nearest_terms(publish: Any) -> None:
    scope = ask(publish(rule("called_for")), ("windscren", None), ("flange sprocket", None))
    assert [(one.line, one.text) for one in scope.unknown_operations] == [
        (0, "windscren"),
        (1, "flange sprocket"),
    ]
    assert (
        "Windscreen" in scope.unknown_operations[0].nearest
        or "windscreen" in scope.unknown_operations[0].nearest
    )
    assert camera(scope).answer == "no_rule"


def test_a_term_that_two_operations_share_is_asked_back(new_shop: Callable[[], Shop]) -> None:
    shop = new_shop()
    shared = [{**small.operation(name), "synonyms": ["glass"]} for name in ("windscreen", "rear-window")]
    file = shop.file(shop.put([small.source(), *shared, small.fixture(), small.vehicle()]))
    (unknown,) = ask(file, ("glass", None)).unknown_operations
    assert sorted(unknown.nearest) == ["Rear-window", "Windscreen"]


def test_a_changed_car_is_answered_by_the_maker_or_by_no_rule_never_by_silence(publish: Any) -> None:
    scope = ask(
        publish(rule("called_for")), ("windscreen", None), changes={"tyre_size": "yes", "tow_bar": "yes"}
    )
    assert {one.change: one.answer for one in scope.changed_car} == {
        "tyre_size": "refer_to_maker",
        "tow_bar": "no_rule",
    }
    asked = {one.id for one in scope.questions if one.decides == "changed_car"}
    assert "change:ride_height" in asked
    assert "change:tyre_size" not in asked


def test_options_that_the_vehicle_does_not_have_are_refused_with_the_nearest(publish: Any) -> None:
    with pytest.raises(UnknownName) as refused:
        ask(publish(rule("called_for")), ("windscreen", None), options={"camra": "yes"})
    assert refused.value.pointer == "/options/camra"
    assert "camera" in refused.value.mend


def test_contradictory_options_are_refused_and_say_what_contradicts(publish: Any) -> None:
    with pytest.raises(InvalidValue, match="camera"):
        ask(
            publish(rule("called_for")),
            ("windscreen", None),
            options={"camera": "yes"},
            answers={"option:camera": "no"},
        )
