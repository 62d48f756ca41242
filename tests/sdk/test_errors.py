"""RFC 9457 problems, and bodies that are not, become typed errors that survive copying and pickling."""

import copy
import inspect
import pickle

import msgspec
import pytest
import respx

import snapline
from snapline import Attempt, ProblemError, Snapline, SnaplineError, errors
from snapline.wire.problems import Problem, ProblemItem

PROBLEM = Problem(
    type="/problems/MISSING_DIMENSION",
    title="A dimension is missing",
    status=422,
    detail="The rear overhang is not known for this vehicle.",
    code="MISSING_DIMENSION",
    request_id="req-1",
    instance="/v1/setups",
    errors=(ProblemItem(pointer="/measured", code="MISSING_DIMENSION", detail="Measure and give it."),),
)
CLASSES = [kind for _, kind in inspect.getmembers(errors, inspect.isclass) if issubclass(kind, SnaplineError)]


def make(kind: type[SnaplineError]) -> SnaplineError:
    error = kind(PROBLEM, 2.5) if issubclass(kind, ProblemError) else kind("It went wrong.")
    error.request_id = "req-1"
    error.attempts = (Attempt(number=1, failure="status 503", elapsed_s=0.1, status=503, wait_s=0.4),)
    return error


@pytest.mark.parametrize(
    ("status", "code", "kind"),
    [
        (400, "INVALID_VALUE", snapline.BadRequest),
        (413, "TOO_LARGE", snapline.BadRequest),
        (415, "UNSUPPORTED_MEDIA_TYPE", snapline.BadRequest),
        (422, "INVALID_VALUE", snapline.BadRequest),
        (422, "DATUMS_DO_NOT_FIX_A_POINT", snapline.DatumsDoNotFixAPoint),
        (422, "MISSING_DIMENSION", snapline.MissingDimension),
        (401, "KEY_UNKNOWN", snapline.Unauthorized),
        (403, "SCOPE_MISSING", snapline.Forbidden),
        (404, "UNKNOWN_NAME", snapline.NotFound),
        (409, "CONFLICT", snapline.Conflict),
        (412, "CHANGED_MEANWHILE", snapline.Conflict),
        (428, "PRECONDITION_MISSING", snapline.Conflict),
        (429, "TOO_MANY", snapline.RateLimited),
        (500, "INTERNAL", snapline.ServiceFailed),
        (503, "UNAVAILABLE", snapline.ServiceFailed),
        (599, "A_CODE_OF_THE_FUTURE", snapline.ServiceFailed),
        (405, "METHOD_NOT_ALLOWED", ProblemError),
        (418, "A_CODE_OF_THE_FUTURE", ProblemError),
    ],
)
def test_code_then_status_choose_the_class(
    wire: respx.MockRouter, client: Snapline, status: int, code: str, kind: type[ProblemError]
) -> None:
    problem = msgspec.structs.replace(PROBLEM, status=status, code=code)
    wire.get("/v1/vehicles/x").respond(
        status, content=msgspec.json.encode(problem), content_type="application/problem+json"
    )
    with pytest.raises(ProblemError) as caught:
        client.with_options(max_retries=0).vehicles.get("x")
    assert type(caught.value) is kind
    assert (caught.value.status, caught.value.code) == (status, code)


def test_every_member_of_the_problem_can_be_read(wire: respx.MockRouter, client: Snapline) -> None:
    wire.get("/v1/vehicles/x").respond(422, content=msgspec.json.encode(PROBLEM))
    with pytest.raises(snapline.MissingDimension) as caught:
        client.vehicles.get("x")
    error = caught.value
    assert error.type == "/problems/MISSING_DIMENSION"
    assert error.title == "A dimension is missing"
    assert error.detail == "The rear overhang is not known for this vehicle."
    assert error.instance == "/v1/setups"
    assert error.request_id == "req-1"
    assert error.retryable is False
    assert [(item.pointer, item.code) for item in error.errors] == [("/measured", "MISSING_DIMENSION")]
    assert [attempt.status for attempt in error.attempts] == [422]


def test_the_text_names_code_fault_mend_and_request() -> None:
    text = str(errors.problem_error(PROBLEM))
    assert text == (
        "422 MISSING_DIMENSION: The rear overhang is not known for this vehicle. "
        "(/measured: Measure and give it.) [request id req-1]"
    )


def test_the_text_stays_short_when_there_are_many_faults() -> None:
    faults = tuple(ProblemItem(pointer=f"/feet/{n}", code="X", detail="No.") for n in range(50))
    text = str(errors.problem_error(msgspec.structs.replace(PROBLEM, errors=faults)))
    assert "/feet/2: No.; and 47 more" in text
    assert "/feet/3" not in text


@pytest.mark.parametrize(
    ("body", "content_type"),
    [
        (b"<html><h1>502 Bad Gateway</h1></html>", "text/html; charset=utf-8"),
        (b"", ""),
        (b"upstream connect error", "text/plain"),
        (b'["not", "an", "object"]', "application/json"),
        (b'{"detail": 7, "errors": "none"}', "application/problem+json"),
        (b"\xff\xfe\x00", "application/json"),
    ],
)
def test_a_body_that_is_no_problem_report_still_gives_a_typed_error(
    wire: respx.MockRouter, client: Snapline, body: bytes, content_type: str
) -> None:
    wire.get("/v1/vehicles/x").respond(
        502, content=body, headers={"content-type": content_type, "x-request-id": "from-the-proxy"}
    )
    with pytest.raises(snapline.ServiceFailed) as caught:
        client.with_options(max_retries=0).vehicles.get("x")
    assert caught.value.code == "HTTP_502"
    assert caught.value.request_id == "from-the-proxy"
    assert "502" in str(caught.value)


def test_a_problem_with_only_a_title_and_unknown_members_is_used_as_far_as_it_goes(
    wire: respx.MockRouter, client: Snapline
) -> None:
    wire.get("/v1/vehicles/x").respond(
        403, json={"title": "Blocked", "detail": "By the gateway.", "errors": None, "rule": 17}
    )
    with pytest.raises(snapline.Forbidden, match="By the gateway") as caught:
        client.vehicles.get("x")
    assert caught.value.title == "Blocked"


def test_the_status_line_goes_before_what_the_body_claims(wire: respx.MockRouter, client: Snapline) -> None:
    wire.get("/v1/vehicles/x").respond(404, content=msgspec.json.encode(PROBLEM))
    with pytest.raises(ProblemError) as caught:
        client.vehicles.get("x")
    assert caught.value.status == 404


@pytest.mark.parametrize("kind", CLASSES)
@pytest.mark.parametrize("protocol", range(pickle.HIGHEST_PROTOCOL + 1))
def test_errors_survive_pickling(kind: type[SnaplineError], protocol: int) -> None:
    error = make(kind)
    same = pickle.loads(pickle.dumps(error, protocol))
    assert type(same) is kind
    assert str(same) == str(error)
    assert vars(same) == vars(error)


@pytest.mark.parametrize("kind", CLASSES)
def test_errors_survive_copying(kind: type[SnaplineError]) -> None:
    error = make(kind)
    for same in (copy.copy(error), copy.deepcopy(error)):
        assert type(same) is kind
        assert vars(same) == vars(error)


def test_a_timeout_keeps_its_phase_when_pickled() -> None:
    assert pickle.loads(pickle.dumps(snapline.TimedOut("late", "read"))).phase == "read"


@pytest.mark.parametrize("kind", CLASSES)
def test_the_drawing_of_the_tree_names_every_class_and_the_package_exports_it(
    kind: type[SnaplineError],
) -> None:
    assert kind.__name__ in (errors.__doc__ or "")
    assert getattr(snapline, kind.__name__) is kind
