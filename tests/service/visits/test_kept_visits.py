"""Kept visits: a plan that promises its assets, changed only under its ETag, and planned anew."""

from concurrent.futures import ThreadPoolExecutor
from datetime import date, datetime, timedelta
from itertools import count
from zoneinfo import ZoneInfo

import msgspec
import pytest

from running import running
from snapline import Snapline
from snapline.errors import Conflict, NotFound, ProblemError
from snapline.wire.scope import RepairLine
from snapline.wire.sites import AssetPatch
from snapline.wire.visits import VisitPatch, VisitRequest
from snapline_service.settings import Settings

_DAYS = count(1)
CAR = "mirandeux-celadine-2023-eu"


def asked(**changes: object) -> VisitRequest:
    """Return a visit for a new radar cover, on a day that no other test uses."""
    number = next(_DAYS)
    request = VisitRequest(
        vehicle_id=CAR,
        operations=(RepairLine(operation="front bumper cover", extent="replaced"),),
        date=f"2029-{1 + number // 28:02d}-{1 + number % 28:02d}",
        sites=("mill-road",),
    )
    return msgspec.structs.replace(request, **changes)


def test_a_kept_visit_is_what_was_planned_and_can_be_read_back(client: Snapline) -> None:
    request = asked()
    planned = client.visits.plan(request)
    kept = client.visits.keep(request, reference="Job 7")
    assert (kept.data.state, kept.data.site, kept.data.reference) == ("planned", "mill-road", "Job 7")
    assert kept.data.plan == planned
    assert set(kept.data.promised) == {one.asset for one in kept.data.plan.sites[0].assets} != set()
    read = client.visits.get(kept.data.id)
    assert read == kept
    assert [one.id for one in client.visits.list(date=request.date)] == [kept.data.id]


def test_planning_alone_promises_nothing(client: Snapline) -> None:
    request = asked()
    client.visits.plan(request)
    assert list(client.visits.list(date=request.date)) == []
    assert client.visits.keep(request).data.promised


def test_what_is_promised_is_not_there_for_another_visit_of_the_day(client: Snapline) -> None:
    request = asked()
    client.visits.keep(request)
    again = client.visits.plan(request).sites[0]
    assert again.outcome == "cannot"
    assert {"promised"} <= {blocker.kind for blocker in again.blockers}
    with pytest.raises(Conflict) as refused:
        client.visits.keep(request)
    assert refused.value.errors[0].pointer == "/site"
    assert "promised" in str(refused.value.detail)


def test_two_at_the_same_moment_do_not_get_the_same_asset(client: Snapline) -> None:
    request = asked()

    def keep(_: int) -> str:
        try:
            return client.visits.keep(request).data.id
        except Conflict:
            return "refused"

    with ThreadPoolExecutor(4) as pool:
        outcomes = list(pool.map(keep, range(4)))
    assert outcomes.count("refused") == 3


def test_cancelling_gives_the_assets_back(client: Snapline) -> None:
    request = asked()
    kept = client.visits.keep(request)
    cancelled = client.visits.update(kept.data.id, VisitPatch(state="cancelled"), etag=kept.etag)
    assert (cancelled.data.state, cancelled.data.promised) == ("cancelled", ())
    assert client.visits.keep(request).data.promised == kept.data.promised


def test_a_visit_goes_from_planned_to_in_work_to_closed_and_no_other_way(client: Snapline) -> None:
    kept = client.visits.keep(asked())
    with pytest.raises(ProblemError, match="does not go from planned to closed"):
        client.visits.update(kept.data.id, VisitPatch(state="closed"), etag=kept.etag)
    working = client.visits.update(kept.data.id, VisitPatch(state="in_work"), etag=kept.etag)
    closed = client.visits.update(kept.data.id, VisitPatch(state="closed"), etag=working.etag)
    assert closed.data.promised == ()
    with pytest.raises(Conflict, match="stays as it is"):
        client.visits.update(kept.data.id, VisitPatch(state="planned"), etag=closed.etag)


def test_a_change_under_an_old_etag_is_refused(client: Snapline) -> None:
    kept = client.visits.keep(asked())
    client.visits.update(kept.data.id, VisitPatch(reference="other"), etag=kept.etag)
    with pytest.raises(ProblemError) as refused:
        client.visits.update(kept.data.id, VisitPatch(state="in_work"), etag=kept.etag)
    assert refused.value.status == 412


def test_another_day_plans_anew_and_moves_the_promises(client: Snapline) -> None:
    first, second = asked(), asked()
    kept = client.visits.keep(first)
    moved = client.visits.update(kept.data.id, VisitPatch(date=second.date), etag=kept.etag)
    assert (moved.data.date, moved.data.plan.date) == (second.date, second.date)
    assert client.visits.plan(first).sites[0].outcome == "can"
    assert client.visits.plan(second).sites[0].outcome == "cannot"


def test_an_asset_out_of_service_shows_as_a_difference_when_planned_anew(client: Snapline) -> None:
    request = asked(sites=("copper-street",))
    kept = client.visits.keep(request)
    used = next(one for one in kept.data.plan.sites[0].assets if one.role == "fixture")
    asset = client.assets.get(used.asset)
    assert client.visits.replan(kept.data.id).differences == ()
    broken = client.assets.update(used.asset, AssetPatch(condition="out_of_service"), etag=asset.etag)
    try:
        with pytest.raises(Conflict, match="out of service"):
            client.visits.replan(kept.data.id)
    finally:
        client.assets.update(used.asset, AssetPatch(condition="in_service"), etag=broken.etag)
    assert client.visits.get(kept.data.id) == kept, "a plan that failed changes nothing"


def test_only_validated_means_that_nothing_is_kept(client: Snapline) -> None:
    request = asked()
    client.visits.keep(request, validate_only=True)
    assert list(client.visits.list(date=request.date)) == []


def test_the_same_key_keeps_a_visit_once(client: Snapline) -> None:
    request = asked()
    first = client.visits.keep(request, idempotency_key="one-visit-" + request.date)
    again = client.visits.keep(request, idempotency_key="one-visit-" + request.date)
    assert first.data.id == again.data.id


def test_a_visit_that_is_not_there_is_not_found(client: Snapline) -> None:
    with pytest.raises(NotFound):
        client.visits.get("vis_" + "0" * 32)


@pytest.mark.parametrize(
    ("changes", "pointer"),
    [
        ({"date": "2020-01-01"}, "/date"),
        ({"date": "2029-02-30"}, "/date"),
        ({"sites": ("mill-raod",)}, "/sites/0"),
        ({"vehicle_id": "nobody"}, "/vehicle_id"),
        ({"prefer": {"radar-aim": "telepathy"}}, "/prefer/radar-aim"),
        ({"prefer": {"radar-am": "reflector"}}, "/prefer/radar-am"),
        ({"options": {"corner_radars": "yes"}, "answers": {"option:corner_radars": "no"}}, "/options"),
        ({"operations": (RepairLine(operation="windscreen", extent="deployed"),)}, "/operations/0/extent"),
    ],
)
def test_what_cannot_be_is_refused_at_its_place(
    client: Snapline, changes: dict[str, object], pointer: str
) -> None:
    with pytest.raises(ProblemError) as refused:
        client.visits.plan(asked(**changes))
    assert refused.value.status == 422
    assert refused.value.errors[0].pointer == pointer
    assert refused.value.mend


def test_a_change_of_the_car_without_a_rule_is_named_beside_the_outcome(client: Snapline) -> None:
    # No rule is not a 'no': who reads only why the plan is possible learns of it too.
    plan = client.visits.plan(asked(changes={"tow_bar": "yes"}))
    assert [one.answer for one in plan.scope.changed_car] == ["no_rule"]
    assert "the change 'tow bar'" in plan.outcome_because


def test_a_patch_names_only_what_changes_among_options_answers_and_changes(client: Snapline) -> None:
    request = asked(options={"corner_radars": "yes"}, answers={"q": "x"}, changes={"tow_bar": "yes"})
    kept = client.visits.keep(request)
    patch = VisitPatch(options={}, answers={"z": "y"}, changes={"tyre_size": "no"})
    changed = client.visits.update(kept.data.id, patch, etag=kept.etag)
    assert changed.data.request == msgspec.structs.replace(
        request, answers={"q": "x", "z": "y"}, changes={"tow_bar": "yes", "tyre_size": "no"}
    )


def test_null_takes_an_option_an_answer_or_a_change_out(client: Snapline) -> None:
    request = asked(options={"corner_radars": "yes"}, answers={"q": "x", "z": "y"}, changes={"tow_bar": "no"})
    kept = client.visits.keep(request)
    patch = VisitPatch(options={"corner_radars": None}, answers={"q": None, "none": None}, changes=None)
    changed = client.visits.update(kept.data.id, patch, etag=kept.etag)
    assert changed.data.request == msgspec.structs.replace(
        request, options={}, answers={"z": "y"}, changes={}
    )
    fitted = {one.system: one.fitted for one in changed.data.plan.scope.systems}
    assert fitted["rear-radars"] == "unknown", "the plan is made without the option"


def test_a_patch_that_fills_the_answers_beyond_their_number_is_refused(client: Snapline) -> None:
    many = {f"q{number}": "x" for number in range(150)}
    kept = client.visits.keep(asked(answers=many))
    more: dict[str, str | None] = {f"r{number}": "x" for number in range(150)}
    with pytest.raises(ProblemError) as refused:
        client.visits.update(kept.data.id, VisitPatch(answers=more), etag=kept.etag)
    assert (refused.value.status, refused.value.errors[0].pointer) == (422, "/answers")


def overnight() -> tuple[VisitRequest, VisitRequest]:
    """Return a visit that runs past midnight, and one of the next day with the same work."""
    late, early = asked(start="23:30"), asked(start="00:00")
    return late, msgspec.structs.replace(early, date=str(date.fromisoformat(late.date) + timedelta(days=1)))


def test_what_is_promised_past_midnight_is_not_there_for_a_visit_of_the_next_day(client: Snapline) -> None:
    late, early = overnight()
    client.visits.keep(late)
    again = client.visits.plan(early).sites[0]
    assert {"promised"} <= {blocker.kind for blocker in again.blockers}
    with pytest.raises(Conflict, match=f"promised to another visit on {early.date}"):
        client.visits.keep(early)


def test_a_visit_does_not_run_into_a_day_on_which_its_assets_are_promised(client: Snapline) -> None:
    late, early = overnight()
    kept = client.visits.keep(early)
    assert client.visits.plan(late).sites[0].outcome == "cannot"
    with pytest.raises(Conflict, match=f"promised to another visit on {early.date}"):
        client.visits.keep(late)
    in_time = client.visits.keep(msgspec.structs.replace(late, start="08:00"))
    with pytest.raises(Conflict, match=f"promised to another visit on {early.date}"):
        client.visits.update(in_time.data.id, VisitPatch(start="23:30"), etag=in_time.etag)
    client.visits.update(kept.data.id, VisitPatch(state="cancelled"), etag=kept.etag)
    moved = client.visits.update(in_time.data.id, VisitPatch(start="23:30"), etag=in_time.etag)
    assert client.visits.plan(early).sites[0].outcome == "cannot"
    assert client.visits.replan(moved.data.id).differences == (), "its own promises do not stop it"
    client.visits.update(moved.data.id, VisitPatch(start="08:00"), etag=moved.etag)
    assert client.visits.plan(early).sites[0].outcome == "can"


def test_a_visit_that_ends_at_midnight_leaves_the_next_day_free(client: Snapline) -> None:
    late, early = overnight()
    total_min = client.visits.plan(late).sites[0].total_min
    start = datetime.fromisoformat("2000-01-01") - timedelta(minutes=round(total_min))
    client.visits.keep(msgspec.structs.replace(late, start=f"{start:%H:%M}"))
    assert client.visits.plan(early).sites[0].outcome == "can"


def test_two_at_the_same_moment_do_not_get_the_same_asset_across_midnight(client: Snapline) -> None:
    def keep(request: VisitRequest) -> str:
        try:
            return client.visits.keep(request).data.id
        except Conflict:
            return "refused"

    with ThreadPoolExecutor(4) as pool:
        outcomes = list(pool.map(keep, overnight() * 2))
    assert outcomes.count("refused") == 3


def test_a_visit_on_the_last_day_of_the_calendar_runs_into_no_other(client: Snapline) -> None:
    zeroing = (RepairLine(operation="steering column"),)
    last = asked(date="9999-12-31", start="23:30", operations=zeroing)
    assert client.visits.keep(last).data.plan.date == "9999-12-31"


def test_an_asset_is_not_deleted_while_a_visit_to_come_has_it(own_demo: tuple[Settings, str]) -> None:
    settings, key = own_demo
    with running(settings) as service, Snapline(service.url, key) as client:
        kept = client.visits.keep(asked(start="23:30"))
        asset = client.assets.get(kept.data.promised[0])
        with pytest.raises(Conflict) as refused:
            client.assets.delete(asset.data.id, etag=asset.etag)
        assert f"is promised to visits: {kept.data.id} on {kept.data.date}." in refused.value.detail
        assert "out of service" in str(refused.value.mend)
        client.visits.update(kept.data.id, VisitPatch(state="cancelled"), etag=kept.etag)
        assert client.assets.delete(asset.data.id, etag=asset.etag) == asset.data


def test_the_visits_that_an_asset_is_promised_to_are_found_by_it(client: Snapline) -> None:
    kept, cancelled = client.visits.keep(asked()), client.visits.keep(asked())
    client.visits.update(cancelled.data.id, VisitPatch(state="cancelled"), etag=cancelled.etag)
    for asset in kept.data.promised:
        found = [one.id for one in client.visits.list(asset=asset)]
        assert kept.data.id in found
        assert cancelled.data.id not in found
    assert list(client.visits.list(asset="nobody-has-it")) == []


NEAR, FAR = RepairLine(operation="windscren"), RepairLine(operation="flux capacitor")


def test_a_visit_of_which_no_line_is_understood_is_planned_and_not_kept(client: Snapline) -> None:
    request = asked(operations=(NEAR, FAR))
    assert client.visits.plan(request).outcome == "conditional"
    with pytest.raises(ProblemError) as refused:
        client.visits.keep(request)
    assert refused.value.status == 422
    assert [(one.pointer, one.code) for one in refused.value.errors] == [
        ("/request/operations/0/operation", "UNKNOWN_NAME"),
        ("/request/operations/1/operation", "UNKNOWN_NAME"),
    ]
    assert "'windscreen'" in str(refused.value.errors[0].mend)
    assert "term of the trade" in str(refused.value.errors[1].mend)
    assert list(client.visits.list(date=request.date)) == []


def test_a_kept_visit_does_not_become_one_of_which_no_line_is_understood(client: Snapline) -> None:
    kept = client.visits.keep(asked())
    with pytest.raises(ProblemError) as refused:
        client.visits.update(kept.data.id, VisitPatch(operations=(FAR,)), etag=kept.etag)
    assert (refused.value.status, refused.value.errors[0].pointer) == (422, "/operations/0/operation")
    one_of_two = (FAR, *kept.data.request.operations)
    assert client.visits.update(kept.data.id, VisitPatch(operations=one_of_two), etag=kept.etag)


def test_a_start_that_is_past_at_the_site_is_named(client: Snapline) -> None:
    here = client.sites.get("mill-road").data.time_zone
    now = datetime.now(ZoneInfo(here))
    past = client.visits.plan(asked(date=f"{now:%Y-%m-%d}", start=f"{now:%H:%M}"))
    assert past.outcome == "can"
    assert past.assumed[0].startswith(f"The start, {now:%H:%M} on {now:%Y-%m-%d}, is past")
    soon = now + timedelta(minutes=10)
    coming = client.visits.plan(asked(date=f"{soon:%Y-%m-%d}", start=f"{soon:%H:%M}"))
    assert not any("is past" in one for one in coming.assumed)
