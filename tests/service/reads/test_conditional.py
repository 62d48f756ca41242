"""ETag, If-None-Match and 304, by RFC 9110 sections 8.8, 13.1.2 and 15.4.5."""

import re
import time
from pathlib import Path

import httpx
import pytest

from running import running
from service.catalogue.demo import FIXTURES, VEHICLES
from snapline_service import database, places
from snapline_service.access import keys
from snapline_service.drafts import actions
from snapline_service.settings import Settings

VEHICLE = "/v1/vehicles/quellovane-sablune-2023-eu"
READS = [
    "/v1/vehicles",
    "/v1/vehicles?make=Quellovane&page_size=2",
    VEHICLE,
    f"{VEHICLE}/systems/camera",
    "/v1/fixtures",
    "/v1/fixtures/board-two-circle",
    "/v1/fixtures/board-two-circle/vehicles",
]
NOT_ITS_TAG = '"00000000000000000000000000000000"'
# Of these a 304 must repeat what the 200 would have said (RFC 9110, 15.4.5); the service sends no others.
REPEATED_IN_304 = ("cache-control", "etag", "vary")


def etag_of(http: httpx.Client, address: str, encoding: str = "identity") -> str:
    return http.get(address, headers={"accept-encoding": encoding}).raise_for_status().headers["etag"]


def ask_with(
    http: httpx.Client, address: str, if_none_match: str, encoding: str = "identity"
) -> httpx.Response:
    return http.get(address, headers={"accept-encoding": encoding, "if-none-match": if_none_match})


@pytest.mark.parametrize("address", READS)
def test_every_look_up_has_a_strong_etag_that_stays(http: httpx.Client, address: str) -> None:
    tag = etag_of(http, address)
    assert re.fullmatch(r'"[\x21\x23-\x7e]+"', tag)  # RFC 9110, 8.8.3; without W/ it is strong
    assert etag_of(http, address) == tag


def test_no_two_documents_share_an_etag(http: httpx.Client) -> None:
    addresses = [f"/v1/vehicles/{name}" for name in VEHICLES] + [f"/v1/fixtures/{name}" for name in FIXTURES]
    assert len({etag_of(http, address) for address in addresses}) == len(addresses)


@pytest.mark.parametrize("encoding", ["identity", "gzip"])
@pytest.mark.parametrize("address", READS)
def test_what_the_caller_has_is_not_sent_again(http: httpx.Client, address: str, encoding: str) -> None:
    fresh = http.get(address, headers={"accept-encoding": encoding})
    again = ask_with(http, address, fresh.headers["etag"], encoding)
    assert (again.status_code, again.content) == (304, b"")
    assert "content-type" not in again.headers
    assert "date" in again.headers
    for name in REPEATED_IN_304:
        assert again.headers[name] == fresh.headers[name]
    assert again.headers["catalogue-revision"] == fresh.headers["catalogue-revision"]


@pytest.mark.parametrize(
    "form",
    [
        "{tag}",
        "W/{tag}",
        f"{NOT_ITS_TAG}, {{tag}}",
        f"{{tag}},{NOT_ITS_TAG}",
        f"{NOT_ITS_TAG}, W/{{tag}}",
        "*",
    ],
)
def test_the_tag_is_found_alone_weak_or_in_a_list(http: httpx.Client, form: str) -> None:
    assert ask_with(http, VEHICLE, form.format(tag=etag_of(http, VEHICLE))).status_code == 304


@pytest.mark.parametrize("form", [NOT_ITS_TAG, "", "nonsense", "{bare}", '"{bare}x"', f"W/{NOT_ITS_TAG}"])
def test_another_tag_is_answered_in_full(http: httpx.Client, form: str) -> None:
    answer = ask_with(http, VEHICLE, form.format(bare=etag_of(http, VEHICLE).strip('"')))
    assert answer.status_code == 200
    assert answer.json()["id"] == "quellovane-sablune-2023-eu"


def test_each_encoding_has_a_tag_of_its_own(http: httpx.Client) -> None:
    # A strong tag names one sequence of octets (8.8.1), and the compressed ones are others.
    plain, compressed = etag_of(http, VEHICLE, "identity"), etag_of(http, VEHICLE, "gzip")
    assert plain != compressed
    assert ask_with(http, VEHICLE, compressed, "gzip").headers["etag"] == compressed
    # Who holds the compressed octets alone and asks for the plain ones does not have them yet.
    assert ask_with(http, VEHICLE, compressed, "identity").status_code == 200
    assert ask_with(http, VEHICLE, plain, "gzip").status_code == 200


def test_publishing_changes_the_tags_of_what_changed_and_no_others(tmp_path: Path) -> None:
    settings = Settings(
        database=f"sqlite:///{tmp_path}/snapline.db",
        data_folder=tmp_path / "revisions",
        secret=b"a secret for the tests alone",
    )
    database.migrate(settings.database)
    engine = database.connect(settings.database)
    keys.add_group(engine, "g", "Invented")
    key = keys.issue(engine, settings.secret, group="g", holder="h", scopes=("read",)).token

    def publish(folder: str) -> None:
        actions.import_files(engine, places.demo_fixtures() / folder, group="g", by="test")
        actions.publish(engine, settings, group="g", by="test", note="")

    publish("catalogue")
    with running(settings) as service, httpx.Client(base_url=service.url, verify=False) as http:
        http.headers["authorization"] = f"Bearer {key}"
        addresses = [f"/v1/vehicles/{name}" for name in VEHICLES]
        before = {address: etag_of(http, address) for address in addresses}
        publish("correction")
        for _ in range(100):  # every worker sees a new revision within a second or so
            if http.get(VEHICLE).headers["catalogue-revision"] == "2":
                break
            time.sleep(0.1)
        after = {address: etag_of(http, address) for address in addresses}
        assert [address for address in addresses if before[address] != after[address]] == [VEHICLE]
        assert (
            ask_with(http, "/v1/vehicles/quellovane-lirra-2016-eu", before[addresses[0]]).headers[
                "catalogue-revision"
            ]
            == "2"
        )
    engine.dispose()
