"""Keys are random, shown once and kept as keyed hashes; they end by time or by revocation."""

import hashlib
import hmac
import subprocess
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from service.shop import Shop, rows
from snapline.wire.keys import SCOPES
from snapline_service.access import keys
from snapline_service.access.keys import Issued, Principal
from snapline_service.access.tables import KeyRow
from snapline_service.database import new_id, reading, writing
from snapline_service.errors import Conflict, InvalidValue, UnknownName


def holder_of(shop: Shop, token: str, secret: bytes | None = None) -> Principal | None:
    with reading(shop.engine) as session:
        return keys.holder_of(session, keys.digest(token.encode(), secret or shop.settings.secret))


def key_row(shop: Shop, key_id: str) -> KeyRow:
    with reading(shop.engine) as session:
        return session.get_one(KeyRow, key_id)


def from_now(**duration: float) -> str:
    return (datetime.now(UTC) + timedelta(**duration)).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def key_that_ends(shop: Shop, at: str | None) -> str:
    """Put a key with an end of its own into the database and return its token."""
    issued = shop.key("read")
    token = keys.new_token(shop.settings.secret)
    row = KeyRow(
        id=new_id("key"),
        holder_id=issued.holder_id,
        digest=keys.digest(token.encode(), shop.settings.secret),
        scopes="read",
        created_at="2020-01-01T00:00:00.000000Z",
        expires_at=at,
        revoked_at=None,
    )
    with writing(shop.engine) as session:
        session.add(row)
    return token


def test_keys_are_random_and_long_enough(shop: Shop) -> None:
    """32 random bytes, written in base64: common practice, no source."""
    tokens = [shop.key("read").token for _ in range(40)]
    assert len(set(tokens)) == 40
    bodies = [token.removeprefix("snl_") for token in tokens]
    assert {len(body) for body in bodies} == {55}
    for one, other in pairwise(bodies):
        same = sum(a == b for a, b in zip(one, other, strict=True))
        assert same < 15, "of 55 characters, most out of 64, so many never agree by chance"


def test_the_digest_is_hmac_sha256() -> None:
    """RFC 4231, test case 2."""
    said = keys.digest(b"what do ya want for nothing?", b"Jefe")
    assert said.hex() == "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"


def test_only_a_keyed_hash_of_a_key_is_stored(shop: Shop) -> None:
    issued = shop.key()
    kept = rows(shop.engine)
    wanted = hmac.new(shop.settings.secret, issued.token.encode(), hashlib.sha256).digest()
    assert wanted in [row[2] for row in kept["api_keys"]]
    body = issued.token.removeprefix("snl_")
    plain_hash = hashlib.sha256(issued.token.encode()).digest()
    for value in (value for table in kept.values() for row in table for value in row):
        assert value != plain_hash
        assert body not in (value.decode("latin-1") if isinstance(value, bytes) else str(value))


def test_the_database_file_does_not_contain_the_key(shop: Shop) -> None:
    """On PostgreSQL the server's own files are not ours to read; there the tables must do."""
    issued = shop.key()
    path = Path(shop.settings.database.partition(":///")[2])
    files = list(path.parent.glob(f"{path.name}*")) if path.name == "snapline.db" else []
    # By another process: closing one here would take SQLite's locks away (sqlite.org/howtocorrupt.html, 2.2).
    read = subprocess.run(["cat", *files], capture_output=True, check=True).stdout if files else b""
    stored = read or repr(rows(shop.engine)).encode()
    assert issued.key_id.encode() in stored, "the file must be the one that the key went into"
    assert issued.token.removeprefix("snl_").encode() not in stored


def test_a_key_tells_its_holder_group_and_scopes(shop: Shop) -> None:
    issued = shop.key("plan", "read", "read", holder="Ada")
    found = holder_of(shop, issued.token)
    assert found == Principal(
        shop.group_id, issued.holder_id, "Ada", issued.key_id, frozenset({"read", "plan"}), shop.name
    )


@pytest.mark.parametrize(
    "change", [str.upper, lambda t: t[:-1], lambda t: t + "x", lambda _: "", lambda _: "é"]
)
def test_any_other_text_is_nobodys_key(shop: Shop, change: object) -> None:
    assert callable(change)
    assert holder_of(shop, change(shop.key().token)) is None


def test_another_secret_does_not_accept_it(shop: Shop) -> None:
    token = shop.key().token
    assert holder_of(shop, token) is not None
    assert holder_of(shop, token, secret=b"of another installation") is None


@pytest.mark.parametrize("scopes", [["reed"], ["read", "reed"], ["READ"], [""], ["read plan"]])
def test_an_unknown_scope_is_named_and_the_known_ones_listed(shop: Shop, scopes: list[str]) -> None:
    before = rows(shop.engine)
    with pytest.raises(InvalidValue) as refused:
        shop.key(*scopes)
    assert refused.value.pointer == "/scopes"
    assert scopes[-1] in refused.value.detail
    assert all(scope in refused.value.mend for scope in SCOPES)
    assert rows(shop.engine) == before


def test_a_key_without_any_scope_is_refused(shop: Shop) -> None:
    with pytest.raises(InvalidValue, match="at least one scope"):
        keys.issue(shop.engine, b"x", group=shop.name, holder="Ada", scopes=())


def test_a_key_ends_when_its_time_is_over(shop: Shop) -> None:
    assert holder_of(shop, key_that_ends(shop, from_now(seconds=-1))) is None
    assert holder_of(shop, key_that_ends(shop, "2021-01-01T00:00:00.000000Z")) is None
    assert holder_of(shop, key_that_ends(shop, from_now(hours=1))) is not None
    assert holder_of(shop, key_that_ends(shop, None)) is not None


def issue_for(shop: Shop, valid_days: int | None) -> Issued:
    return keys.issue(
        shop.engine,
        shop.settings.secret,
        group=shop.name,
        holder="Ada",
        scopes=["read"],
        valid_days=valid_days,
    )


def test_days_of_validity_are_counted_from_now(shop: Shop) -> None:
    row = key_row(shop, issue_for(shop, 30).key_id)
    assert row.expires_at is not None
    assert from_now(days=30, seconds=-60) < row.expires_at <= from_now(days=30)
    assert key_row(shop, issue_for(shop, None).key_id).expires_at is None


@pytest.mark.parametrize("valid_days", [0, -1])
def test_no_days_of_validity_are_not_endless_ones(shop: Shop, valid_days: int) -> None:
    assert holder_of(shop, issue_for(shop, valid_days).token) is None


def test_a_revoked_key_is_nobodys_and_stays_so(shop: Shop) -> None:
    kept, lost = shop.key(), shop.key()
    keys.revoke(shop.engine, group=shop.name, key_id=lost.key_id)
    when = key_row(shop, lost.key_id).revoked_at
    assert when
    assert holder_of(shop, lost.token) is None
    assert holder_of(shop, kept.token) is not None
    keys.revoke(shop.engine, group=shop.name, key_id=lost.key_id)
    assert key_row(shop, lost.key_id).revoked_at == when


def test_another_groups_key_cannot_be_revoked(shop: Shop) -> None:
    other = Shop(shop.engine, shop.settings, shop.folder, f"{shop.name}-neighbour")
    theirs = other.key()
    with pytest.raises(UnknownName):
        keys.revoke(shop.engine, group=shop.name, key_id=theirs.key_id)
    assert holder_of(other, theirs.token) is not None


def test_a_holder_stays_the_same_over_several_keys(shop: Shop) -> None:
    first, second, third = (shop.key("read", holder=name) for name in ("Ada", "Ada", "Ben"))
    assert first.holder_id == second.holder_id != third.holder_id
    assert first.key_id != second.key_id
    other = Shop(shop.engine, shop.settings, shop.folder, f"{shop.name}-neighbour")
    assert other.key("read", holder="Ada").holder_id != first.holder_id


def test_a_groups_keys_are_listed_oldest_first_and_nobody_elses(shop: Shop) -> None:
    other = Shop(shop.engine, shop.settings, shop.folder, f"{shop.name}-neighbour")
    other.key()
    issued = [shop.key("read", holder=name) for name in ("Ben", "Ada")]
    listed = keys.listing(shop.engine, group=shop.name)
    assert [(key.id, holder.name) for key, holder in listed] == [
        (issued[0].key_id, "Ben"),
        (issued[1].key_id, "Ada"),
    ]


def test_a_groups_name_can_be_taken_once(shop: Shop) -> None:
    with pytest.raises(Conflict) as refused:
        keys.add_group(shop.engine, shop.name, "another title")
    assert refused.value.pointer == "/name"
    assert shop.name in refused.value.detail


@pytest.mark.parametrize("name", ["", "  "])
def test_a_group_and_a_holder_need_a_name(shop: Shop, name: str) -> None:
    with pytest.raises(InvalidValue):
        keys.add_group(shop.engine, name, "title")
    with pytest.raises(InvalidValue):
        shop.key("read", holder=name)


def test_an_unknown_group_is_named(shop: Shop) -> None:
    with pytest.raises(UnknownName, match="no group called 'nowhere'"):
        keys.issue(shop.engine, b"x", group="nowhere", holder="Ada", scopes=["read"])
    with pytest.raises(UnknownName):
        keys.listing(shop.engine, group="nowhere")
    with pytest.raises(UnknownName):
        keys.revoke(shop.engine, group="nowhere", key_id="key_x")
