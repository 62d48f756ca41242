"""Deliveries are verified as Standard Webhooks 1.0 says, and told apart from everything else."""

from datetime import UTC, datetime

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from standardwebhooks.webhooks import Webhook as Reference

from snapline import webhooks
from snapline.webhooks import EventUnreadable, HeadersIncomplete, NotSigned, TooOld, sign, verify
from snapline.wire.changes import Actor, Event

SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
OTHER = webhooks.new_secret(b"another secret of 32 bytes here!")
AT_S = 1_800_000_000
EVENT = Event(
    id="evt_1",
    cursor=7,
    type="catalogue.published",
    timestamp="2027-01-15T08:00:00.000000Z",
    by=Actor(holder_id="hld_1", name="Ada"),
    subject="/v1/revisions/3",
    data={"revision": 3},
)
BODY = msgspec.json.encode(EVENT)


def headers(
    secret: str = SECRET, body: bytes = BODY, at_s: int = AT_S, event_id: str = "evt_1"
) -> dict[str, str]:
    return {
        "webhook-id": event_id,
        "webhook-timestamp": str(at_s),
        "webhook-signature": sign(secret, event_id, at_s, body),
    }


@pytest.mark.parametrize(
    ("secret", "message_id", "timestamp_s", "payload", "signature"),
    [
        # The example of the specification (standard-webhooks/spec/standard-webhooks.md); from memory.
        (
            "whsec_plJ3nmyCDGBKInavdOK15jsl",
            "msg_loFOjxBNrRLzqYUf",
            1731705121,
            b'{"event_type":"ping","data":{"success":true}}',
            "v1,rAvfW3dJ/X/qxhsaXPOyyCGmRKsaKWcsNccKXlIktD0=",
        ),
        # What the reference libraries test themselves with (test_sign_function); from memory.
        (
            "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw",
            "msg_p5jXN8AQM9LWM0D4loKWxJek",
            1614265330,
            b'{"test": 2432232314}',
            "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=",
        ),
    ],
)
def test_published_signatures(
    secret: str, message_id: str, timestamp_s: int, payload: bytes, signature: str
) -> None:
    assert sign(secret, message_id, timestamp_s, payload) == signature


@given(
    st.binary(min_size=24, max_size=64),
    st.from_regex(r"evt_[0-9a-f]{1,32}", fullmatch=True),
    st.text(st.characters(exclude_categories=["Cs"])),
)
def test_the_reference_library_signs_alike(key: bytes, message_id: str, payload: str) -> None:
    # PyPI: standardwebhooks
    secret = webhooks.new_secret(key)
    at = datetime.fromtimestamp(AT_S, UTC)
    assert sign(secret, message_id, AT_S, payload.encode()) == Reference(secret).sign(message_id, at, payload)


def test_the_reference_library_takes_what_we_sign() -> None:
    now_s = int(datetime.now(UTC).timestamp())
    assert Reference(SECRET).verify(BODY, headers(at_s=now_s)) == msgspec.to_builtins(EVENT)


def test_a_delivery_gives_its_event() -> None:
    assert verify(BODY, headers(), SECRET, now_s=AT_S) == EVENT


def test_headers_are_found_in_any_case() -> None:
    titled = {name.title(): value for name, value in headers().items()}
    assert verify(BODY, titled, SECRET, now_s=AT_S) == EVENT


def test_while_secrets_change_either_side_may_have_two() -> None:
    both = headers()
    both["webhook-signature"] += " v2,whatever " + headers(OTHER)["webhook-signature"]
    assert verify(BODY, both, OTHER, now_s=AT_S) == EVENT
    assert verify(BODY, headers(), [OTHER, SECRET], now_s=AT_S) == EVENT


@pytest.mark.parametrize("apart_s", [-300, 0, 300])
def test_five_minutes_are_allowed(apart_s: int) -> None:
    assert verify(BODY, headers(), SECRET, now_s=AT_S + apart_s) == EVENT


@pytest.mark.parametrize("apart_s", [-301, 301])
def test_more_than_five_minutes_are_not(apart_s: int) -> None:
    with pytest.raises(TooOld):
        verify(BODY, headers(), SECRET, now_s=AT_S + apart_s)


@pytest.mark.parametrize("name", ["webhook-id", "webhook-timestamp", "webhook-signature"])
def test_every_header_is_needed(name: str) -> None:
    given_ = headers()
    del given_[name]
    with pytest.raises(HeadersIncomplete, match=name):
        verify(BODY, given_, SECRET, now_s=AT_S)


@pytest.mark.parametrize("timestamp", ["soon", "-5", "1.5", "٣", "9" * 40, "1e9"])
def test_a_timestamp_is_a_number_of_seconds(timestamp: str) -> None:
    with pytest.raises(HeadersIncomplete):
        verify(BODY, {**headers(), "webhook-timestamp": timestamp}, SECRET, now_s=AT_S)


@pytest.mark.parametrize(
    "changed",
    [
        {"webhook-id": "evt_2"},
        {"webhook-timestamp": str(AT_S + 1)},
        {"webhook-signature": "v1,"},
        {"webhook-signature": "v1"},
        {"webhook-signature": "ünsigned"},
        {"webhook-signature": sign(OTHER, "evt_1", AT_S, BODY)},
        {"webhook-signature": sign(SECRET, "evt_1", AT_S, BODY).replace("v1,", "v1a,")},
    ],
)
def test_what_was_changed_on_the_way_is_refused(changed: dict[str, str]) -> None:
    with pytest.raises(NotSigned):
        verify(BODY, {**headers(), **changed}, SECRET, now_s=AT_S)


@given(st.binary(max_size=200))
def test_no_other_body_passes(body: bytes) -> None:
    with pytest.raises(NotSigned):
        verify(body, headers(), SECRET, now_s=AT_S)


@pytest.mark.parametrize("body", [b"", b"{}", b"[]", b"\xff", b'{"id": 1}'])
def test_what_is_signed_and_no_event_is_told_apart(body: bytes) -> None:
    with pytest.raises(EventUnreadable):
        verify(body, headers(body=body), SECRET, now_s=AT_S)


def test_a_newer_service_may_say_more() -> None:
    body = msgspec.json.encode({**msgspec.to_builtins(EVENT), "type": "moon.risen", "phase": "full"})
    assert verify(body, headers(body=body), SECRET, now_s=AT_S).type == "moon.risen"


@pytest.mark.parametrize("secret", ["whsec_not base64", "whsec_a"])
def test_a_secret_that_is_none_is_a_mistake_of_the_caller(secret: str) -> None:
    with pytest.raises(ValueError, match="base64"):
        verify(BODY, headers(), secret, now_s=AT_S)
