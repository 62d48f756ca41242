"""No request under /v1 is answered without a key that may make it."""

import http.client
import itertools
import socket
import time
from collections.abc import Iterator
from contextlib import closing
from urllib.parse import urlsplit

import httpx
import pytest

from running import Service
from service.access.operations import Operation, operations
from service.shop import Shop
from snapline.wire.keys import SCOPES
from snapline_service.access import keys
from snapline_service.access.keys import Issued
from snapline_service.access.tables import KeyRow
from snapline_service.database import new_id, writing
from snapline_service.demo import scenario

Demo = tuple[Service, str]
A_VEHICLE = "quellovane-lirra-2016-eu"
NAMES = {
    "vehicle_id": A_VEHICLE,
    "system_id": "camera",
    "fixture_id": "board-two-circle",
    "source_id": "nothing",
    "operation_id": "nothing",
    "key_id": "key_x",
    "site_id": "nowhere",
    "bay_id": "nothing",
    "asset_id": "nothing",
    "visit_id": "nothing",
    "draft_id": "nothing",
    "note_id": "nothing",
    "webhook_id": "nothing",
    "number": "77",
    "other": "78",
    "revision": "77",
    "file_name": "nothing",
}
# The one scope that opens an operation. Who adds one says here who may call it.
OPENS = {
    "read": """
        comment_on_draft compare_draft compare_revisions download_revision_file export_spreadsheet
        get_asset get_bay get_draft get_draft_fixture get_draft_impact get_draft_operation
        get_draft_source get_draft_vehicle get_fixture get_note get_review get_revision
        get_revision_impact get_site get_vehicle get_vehicle_system get_visit identify_vehicle
        list_assets list_bays list_changes list_conflicts list_draft_changes list_drafts
        list_fixture_vehicles list_fixtures list_notes list_revision_files list_revisions list_sites
        list_vehicles list_visits match_fixtures validate_draft
    """,
    "plan": """
        compute_aim_tolerance compute_as_set compute_bay_fit compute_drive_window compute_floor
        compute_placement compute_reflector compute_setting_out compute_setup keep_visit plan_visit
        plan_visits replan_visit update_visit verify_setup
    """,
    "record": """
        create_note delete_note update_note
    """,
    "edit": """
        create_draft drop_draft import_spreadsheet put_draft_fixture put_draft_operation
        put_draft_source put_draft_vehicle rebase_draft restore_revision retire_draft_fixture
        retire_draft_operation retire_draft_source retire_draft_vehicle settle_conflict submit_draft
        update_draft update_draft_fixture update_draft_operation update_draft_source
        update_draft_vehicle
    """,
    "review": """
        approve_draft publish_draft send_draft_back
    """,
    "equip": """
        create_asset create_bay create_site delete_asset delete_bay delete_site replace_bay update_asset
        update_bay update_site
    """,
    "administer": """
        create_webhook delete_webhook get_webhook issue_key list_audit list_deliveries list_keys
        list_webhooks replay_webhook revoke_key rotate_webhook test_webhook update_webhook
    """,
}
NEEDS = {operation: scope for scope, opened in OPENS.items() for operation in opened.split()}


@pytest.fixture(scope="module")
def http_(demo_service: Demo) -> Iterator[httpx.Client]:
    """A bare client without a key."""
    with httpx.Client(base_url=demo_service[0].url) as client:
        yield client


def issue(service: Service, *scopes: str) -> Issued:
    with service.engine() as engine:
        return keys.issue(
            engine, service.settings.secret, group=scenario.GROUP, holder="test", scopes=scopes or SCOPES
        )


def bearer(token: str) -> dict[str, str]:
    return {"authorization": f"Bearer {token}"}


def ask(http_: httpx.Client, operation: Operation, headers: dict[str, str]) -> httpx.Response:
    body: dict[str, str] | None = {} if operation.method in ("POST", "PUT", "PATCH") else None
    media = {"content-type": "application/merge-patch+json"} if operation.method == "PATCH" else {}
    return http_.request(operation.method, operation.at(**NAMES), headers={**media, **headers}, json=body)


def assert_problem(response: httpx.Response, status: int, code: str) -> None:
    assert response.status_code == status, response.text
    assert response.headers["content-type"] == "application/problem+json"
    assert response.json()["code"] == code
    assert response.json()["status"] == status


def test_every_operation_states_the_scope_that_it_needs_here(http_: httpx.Client) -> None:
    assert {operation.id for operation in operations(http_)} == set(NEEDS)


def test_without_a_key_every_operation_is_refused(http_: httpx.Client) -> None:
    for operation in operations(http_):
        refused = ask(http_, operation, {})
        assert_problem(refused, 401, "UNAUTHORIZED")
        assert refused.headers["www-authenticate"] == "Bearer"


def test_an_operation_is_open_to_its_scope_and_to_no_other(demo_service: Demo, http_: httpx.Client) -> None:
    issued = {scope: bearer(issue(demo_service[0], scope).token) for scope in SCOPES}
    for operation, (scope, headers) in itertools.product(operations(http_), issued.items()):
        answer = ask(http_, operation, headers)
        if scope == NEEDS[operation.id]:
            assert answer.status_code in (200, 201, 404, 415, 422), (operation, answer.text)
        else:
            assert_problem(answer, 403, "FORBIDDEN")
            assert NEEDS[operation.id] in answer.json()["detail"]


def test_all_scopes_but_the_one_are_not_enough(demo_service: Demo, http_: httpx.Client) -> None:
    for scope in set(NEEDS.values()):
        rest = bearer(issue(demo_service[0], *(other for other in SCOPES if other != scope)).token)
        for operation in operations(http_):
            assert (ask(http_, operation, rest).status_code == 403) == (NEEDS[operation.id] == scope)


@pytest.mark.parametrize("operation", ["HEAD", "OPTIONS", "PUT", "DELETE", "PATCH", "POST"])
def test_another_method_opens_nothing(http_: httpx.Client, operation: str) -> None:
    refused = http_.request(operation, f"/v1/vehicles/{A_VEHICLE}")
    assert refused.status_code == 401
    assert "Lirra" not in refused.text


WRONG = {
    "nothing": b"",
    "scheme alone": b"Bearer",
    "another scheme": b"Basic dXNlcjpwYXNz",
    "no scheme": b"snl_0000000000000000000000000000000000000000000",
    "garbage": b'Bearer !"$%&/()=?',
    "an unknown key": b"Bearer snl_0000000000000000000000000000000000000000000",
    "not ASCII": "Bearer schlüssel-ключ-鍵".encode(),
    "not even UTF-8": b"Bearer \xff\xfe\xe9",
    "100 kB": b"Bearer " + b"a" * 100_000,
    "a statement of SQL": b"Bearer ' OR 1=1 --",
}


@pytest.mark.parametrize("name", WRONG)
def test_a_wrong_header_is_refused(http_: httpx.Client, name: str) -> None:
    refused = http_.get("/v1/vehicles", headers=[(b"Authorization", WRONG[name])])
    if name == "100 kB":  # the server itself may find it too long
        assert 400 <= refused.status_code < 500
    else:
        assert_problem(refused, 401, "UNAUTHORIZED")
    assert "Lirra" not in refused.text


@pytest.mark.parametrize("value", [b"Bearer ", b"Bearer a\x00b", b"Bearer a\tb"])
def test_what_no_library_would_send_is_refused(demo_service: Demo, value: bytes) -> None:
    place = urlsplit(demo_service[0].url)
    with socket.create_connection((place.hostname, place.port), timeout=10) as connection:
        connection.sendall(b"GET /v1/vehicles HTTP/1.1\r\nHost: x\r\nAuthorization: " + value + b"\r\n\r\n")
        assert connection.recv(100).split()[1] in (b"400", b"401")


@pytest.mark.parametrize("scheme", ["Bearer", "bearer", "BEARER"])
def test_the_scheme_is_not_case_sensitive(demo_service: Demo, http_: httpx.Client, scheme: str) -> None:
    """RFC 9110, section 11.1."""
    found = http_.get("/v1/vehicles", headers={"authorization": f"{scheme} {demo_service[1]}"})
    assert found.status_code == 200


@pytest.mark.parametrize("where", ["/v1/vehicles?key={}", "/v1/vehicles?access_token={}"])
def test_a_key_in_the_address_does_not_count(demo_service: Demo, http_: httpx.Client, where: str) -> None:
    assert http_.get(where.format(demo_service[1])).status_code == 401


SPELLINGS = [
    "//v1{}",
    "///v1{}",
    "/v1/{}",
    "/v1{}/",
    "/v1{}//",
    "/%2Fv1{}",
    "/%2fv1{}",
    "/%76%31{}",
    "/v1%2F..{}",
    "/./v1{}",
    "/x/../v1{}",
    "/v1/../v1{}",
    "/livez/../v1{}",
    "/V1{}",
    "/v1;x{}",
    "/v1{}?",
    "/v1{}%00",
    "/v1{}%20",
    "http://x/v1{}",
]


@pytest.mark.parametrize("spelling", SPELLINGS)
def test_no_spelling_of_an_address_gets_round_the_key(
    demo_service: Demo, http_: httpx.Client, spelling: str
) -> None:
    place = urlsplit(demo_service[0].url)
    for operation in operations(http_):
        body = b'{"make": "Quellovane"}' if operation.method == "POST" else b""
        path = spelling.format(operation.at(**NAMES).removeprefix("/v1"))
        with closing(http.client.HTTPConnection(place.netloc, timeout=10)) as connection:
            connection.request(operation.method, path, body, {"content-type": "application/json"})
            answer = connection.getresponse()
            said = answer.read()
        assert 400 <= answer.status < 500, (path, answer.status, said)
        assert b"Quellovane" not in said
        assert b'"items"' not in said


def test_what_is_public_needs_no_key(http_: httpx.Client) -> None:
    for path in ("/livez", "/readyz", "/openapi.json", "/problems/unauthorized"):
        assert http_.get(path).status_code == 200


def test_a_key_that_has_ended_is_refused(demo_service: Demo, http_: httpx.Client) -> None:
    service, _ = demo_service
    issued, token = issue(service, "read"), keys.new_token(service.settings.secret)
    with service.engine() as engine, writing(engine) as session:
        row = KeyRow(
            id=new_id("key"),
            holder_id=issued.holder_id,
            digest=keys.digest(token.encode(), service.settings.secret),
            scopes="read",
            created_at="2020-01-01T00:00:00.000000Z",
            expires_at="2021-01-01T00:00:00.000000Z",
            revoked_at=None,
        )
        session.add(row)
    refused = http_.get("/v1/vehicles", headers=bearer(token))
    assert_problem(refused, 401, "UNAUTHORIZED")
    assert "expired" in refused.json()["detail"]


def test_a_revoked_key_stops_working_in_the_running_service(demo_service: Demo, http_: httpx.Client) -> None:
    service, _ = demo_service
    issued = issue(service, "read")
    assert http_.get("/v1/vehicles", headers=bearer(issued.token)).status_code == 200
    with service.engine() as engine:
        keys.revoke(engine, group=scenario.GROUP, key_id=issued.key_id)
    until = time.monotonic() + 10
    while http_.get("/v1/vehicles", headers=bearer(issued.token)).status_code == 200:
        assert time.monotonic() < until, "the key still works long after it was revoked"
        time.sleep(0.1)
    assert_problem(http_.get("/v1/vehicles", headers=bearer(issued.token)), 401, "UNAUTHORIZED")


def test_a_new_key_works_at_once(demo_service: Demo, http_: httpx.Client) -> None:
    assert http_.get("/v1/vehicles", headers=bearer(issue(demo_service[0]).token)).status_code == 200


def test_a_group_without_a_catalogue_is_told_so(demo_service: Demo, http_: httpx.Client) -> None:
    service, _ = demo_service
    with service.engine() as engine:
        shop = Shop(engine, service.settings, service.settings.data_folder, f"empty-{new_id('x')}")
        token = shop.key().token
    for path in ("/v1/vehicles", "/v1/fixtures", f"/v1/vehicles/{A_VEHICLE}"):
        assert_problem(http_.get(path, headers=bearer(token)), 404, "NOTHING_PUBLISHED")
