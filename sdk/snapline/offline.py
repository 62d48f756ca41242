"""Read a revision file: one published catalogue revision with its answers prepared.

The service answers its look-ups with this very code, so a program that works offline on a downloaded file
gets the same bytes. The file never changes once written, hence SQLite's ``immutable`` mode, no locking,
and no cache that could grow stale.

A file is whole, or a supplement that holds only what differs from a whole one beside it. Look-ups go to the
one layer or the other; lists are merged of both.
"""

import sqlite3
import threading
import unicodedata
from bisect import bisect_left
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any
from urllib.parse import quote

import msgspec
from msgspec import Struct

from snapline import page_token
from snapline.wire.catalogue import OperationDocument, SourceDocument
from snapline.wire.fixtures import (
    Fixture,
    FixturePage,
    FixtureQuery,
    FixtureVehiclePage,
    FixtureVehicleQuery,
)
from snapline.wire.vehicles import Vehicle, VehiclePage, VehicleQuery

# Changes with every change of what answers hold: files of another format are built anew, and tags change.
FORMAT = "3"
# In KiB, negative as SQLite wants it. SQLite maps 2 GB of a file; what lies beyond is read into this cache.
_CACHE = -32_768
EMPTY_PAGE = b'{"items":[]}'
# How the tag alone and how tag and body of a document are read, plain and compressed.
_PLAIN, _GZIP = (
    {
        table: (f"SELECT {tag} FROM {table} WHERE id = ?", f"SELECT {tag}, {body} FROM {table} WHERE id = ?")  # noqa: S608 - fixed parts
        for table in ("main.vehicles", "base.vehicles", "main.fixtures")
    }
    for tag, body in (("etag", "body"), ("gzip_etag", "gzip"))
)
# A supplement holds all fixtures, sources and operations, but only those vehicles that differ.
_VIEWS = "".join(
    f"CREATE TEMP VIEW {table} AS SELECT * FROM base.{table} b WHERE NOT EXISTS (SELECT 1 "  # noqa: S608 - fixed parts
    f"FROM main.overridden o WHERE o.kind = 'vehicle' AND o.name = b.{column}) "
    f"UNION ALL SELECT * FROM main.{table};"
    for table, column in (("vehicle_list", "id"), ("vin_patterns", "vehicle_id"))
)


_Rows = list[tuple[Any, ...]]
_Place = list[str | int] | None


class Prepared(Struct, frozen=True):
    """An answer as it travels: its strong ETag in quotes, and its body, empty for who has it already."""

    etag: str
    body: bytes


class PatternRow(Struct, frozen=True):
    """A VIN pattern of a vehicle."""

    vehicle_id: str
    pattern: str


def sort_words(text: str) -> str:
    """Fold a make or model for sorting and comparing, so that case does not matter."""
    return " ".join(text.casefold().split())


class RevisionFile:
    """An open revision file. Safe to share between threads. Raises ValueError if it is not one."""

    def __init__(self, path: str | Path) -> None:
        self.path = Path(path)
        self.base_path: Path | None = None
        self._local = threading.local()
        self._changed: frozenset[str] = frozenset()
        meta = self._meta("main")
        self.revision = int(meta["revision"])
        self.manifest_hash = meta["manifest_hash"]
        if "supplements" in meta:
            self.close()
            self.base_path = self.path.with_name(meta["supplements"])
            if self._meta("base")["manifest_hash"] != meta["base_manifest_hash"]:
                message = f"{self.base_path} is not the file that {path} supplements"
                raise ValueError(message)
            overridden = self._rows("SELECT name FROM main.overridden WHERE kind = 'vehicle'")
            self._changed = frozenset(name for (name,) in overridden)

    def _meta(self, layer: str) -> dict[str, str]:
        path = self.path if layer == "main" else self.base_path
        try:
            meta: dict[str, str] = dict(self._rows(f"SELECT key, value FROM {layer}.meta"))  # noqa: S608 - fixed parts
        except sqlite3.DatabaseError as error:
            self.close()
            message = f"{path} is not a revision file"
            raise ValueError(message) from error
        if meta.get("format") != FORMAT:
            self.close()
            message = f"{path} has format {meta.get('format')!r}; this version reads {FORMAT!r}"
            raise ValueError(message)
        return meta

    def vehicle(self, vehicle_id: str, *, gzip: bool = False, known: str | None = None) -> Prepared | None:
        """Return a vehicle's prepared document, compressed if wanted. ``known`` is an ETag had already."""
        own = self.base_path is None or vehicle_id in self._changed
        return self._prepared("main.vehicles" if own else "base.vehicles", vehicle_id, gzip, known)

    def fixture(self, fixture_id: str, *, gzip: bool = False, known: str | None = None) -> Prepared | None:
        """Return a fixture's prepared document; as ``vehicle`` does."""
        return self._prepared("main.fixtures", fixture_id, gzip, known)

    def get_vehicle(self, vehicle_id: str) -> Vehicle | None:
        """Return a vehicle's document as a value."""
        found = self.vehicle(vehicle_id)
        return msgspec.json.decode(found.body, type=Vehicle) if found else None

    def get_fixture(self, fixture_id: str) -> Fixture | None:
        """Return a fixture's document as a value."""
        found = self.fixture(fixture_id)
        return msgspec.json.decode(found.body, type=Fixture) if found else None

    def list_vehicles(self, query: VehicleQuery) -> VehiclePage:
        """Return one page of vehicles. Raises PageTokenInvalid."""
        return msgspec.json.decode(self.vehicle_page(query), type=VehiclePage)

    def list_fixtures(self, query: FixtureQuery) -> FixturePage:
        """Return one page of fixtures. Raises PageTokenInvalid."""
        return msgspec.json.decode(self.fixture_page(query), type=FixturePage)

    def list_fixture_vehicles(self, fixture_id: str, query: FixtureVehicleQuery) -> FixtureVehiclePage:
        """Return one page of the vehicles that a fixture serves. Raises PageTokenInvalid."""
        return msgspec.json.decode(self.fixture_vehicle_page(fixture_id, query), type=FixtureVehiclePage)

    def vehicle_page(self, query: VehicleQuery) -> bytes:
        """Return one page of vehicles as its JSON body. Raises PageTokenInvalid."""
        filters = msgspec.structs.replace(query, page_size=1, page_token=None)
        after = _after(query.page_token, filters)
        match = _match_expression(query.q) if query.q else ""
        if match is None:
            return _page([], query.page_size, filters)
        ask = partial(self._search, query, match, after) if match else partial(self._list, query, after)
        return _page(self._merged(ask, query.page_size), query.page_size, filters)

    def _list(self, query: VehicleQuery, after: _Place, layer: str, limit: int) -> _Rows:
        where = _listed(query)
        if after:
            where.add("(l.make_key, l.model_key, l.year_first, l.id) > (?, ?, ?, ?)", *after)
        return self._rows(
            f"SELECT l.summary{self._and('l.id')} FROM {layer}.vehicle_list l "  # noqa: S608 - fixed parts
            f"WHERE {where.text} ORDER BY l.make_key, l.model_key, l.year_first, l.id LIMIT ?",
            *where.values,
            limit,
        )

    def _search(self, query: VehicleQuery, match: str, after: _Place, layer: str, limit: int) -> _Rows:
        where = _listed(query)
        where.add("t.vehicle_text MATCH ?", match)
        # Ranks of a whole file follow the list's order, so the text index yields the page in order.
        ranked = layer == "base" or self.base_path is None
        if after and ranked:
            where.add("t.rowid > ?", self._rank_before(layer, after))
        elif after:
            where.add("(l.make_key, l.model_key, l.year_first, l.id) > (?, ?, ?, ?)", *after)
        order = "t.rowid" if ranked else "l.make_key, l.model_key, l.year_first, l.id"
        return self._rows(
            f"SELECT l.summary{self._and('l.id')} FROM {layer}.vehicle_text t "  # noqa: S608 - fixed parts
            f"CROSS JOIN {layer}.vehicles v ON v.rank = t.rowid "
            f"CROSS JOIN {layer}.vehicle_list l ON (l.make_key, l.model_key, l.year_first, l.id) "
            "= (v.make_key, v.model_key, v.year_first, v.id) "
            f"WHERE {where.text} ORDER BY {order} LIMIT ?",
            *where.values,
            limit,
        )

    def fixture_page(self, query: FixtureQuery) -> bytes:
        """Return one page of fixtures as its JSON body. Raises PageTokenInvalid."""
        where = _Where("1")
        if query.fixture_kind:
            where.add("fixture_kind = ?", query.fixture_kind)
        if query.capability:
            where.add("instr(capabilities, ?)", f" {query.capability} ")
        filters = msgspec.structs.replace(query, page_size=1, page_token=None)
        if query.page_token:
            where.add("id > ?", *page_token.read(query.page_token, filters, (str,)))
        rows = self._rows(
            f"SELECT summary FROM fixtures WHERE {where.text} ORDER BY id LIMIT ?",  # noqa: S608 - fixed parts
            *where.values,
            query.page_size + 1,
        )
        return _page(rows, query.page_size, filters)

    def fixture_vehicle_page(self, fixture_id: str, query: FixtureVehicleQuery) -> bytes:
        """Return one page of the reverse look-up as its JSON body. Raises PageTokenInvalid."""
        filters = [fixture_id, msgspec.structs.replace(query, page_size=1, page_token=None)]
        after = _after(query.page_token, filters)
        ask = partial(self._served, fixture_id, query, after)
        return _page(self._merged(ask, query.page_size), query.page_size, filters)

    def _served(
        self, fixture_id: str, query: FixtureVehicleQuery, after: _Place, layer: str, limit: int
    ) -> _Rows:
        where = _Where("fixture_id = ? AND basis = ? AND kind = ?", fixture_id)
        where.values += ["by_property" if query.by_property else "stated", query.system_kind or ""]
        where.words("make_key", query.make)
        where.words("model_key", query.model)
        where.year("", query.model_year)
        if after:
            where.add("(make_key, model_key, year_first, vehicle_id) > (?, ?, ?, ?)", *after)
        return self._rows(
            f"SELECT item{self._and('vehicle_id')} FROM {layer}.fixture_vehicles "  # noqa: S608 - fixed parts
            f"WHERE {where.text} ORDER BY make_key, model_key, year_first, vehicle_id LIMIT ?",
            *where.values,
            limit,
        )

    def _and(self, column: str) -> str:
        """Return the column of the vehicle's id, which is needed only where layers are merged."""
        return "" if self.base_path is None else f", {column}"

    def _merged(self, ask: Callable[[str, int], _Rows], size: int) -> _Rows:
        """Return the rows of a page and one more, in the list's order.

        ``ask`` fetches so many rows from a layer, each an item, and its vehicle where there are two layers.
        """
        wanted = limit = size + 1
        rows = ask("main", wanted)
        if self.base_path is None:
            return rows
        below = ask("base", limit)
        kept = [row for row in below if row[1] not in self._changed]
        while len(kept) < wanted and len(below) == limit:
            limit *= 2
            below = ask("base", limit)
            kept = [row for row in below if row[1] not in self._changed]
        at = 0
        for row in rows:
            at = bisect_left(kept, _place_of(row), at, key=_place_of)
            if at >= wanted:
                break
            kept.insert(at, row)
        return kept[:wanted]

    def vin_patterns(self, wmi: str) -> list[PatternRow]:
        """Return the VIN patterns that may match VINs of this manufacturer code."""
        rows = self._rows("SELECT vehicle_id, pattern FROM vin_patterns WHERE wmi IN (?, '')", wmi)
        return [PatternRow(vehicle_id, pattern) for vehicle_id, pattern in rows]

    def makes(self) -> list[str]:
        """Return the makes, folded for comparing."""
        return [make for (make,) in self._rows("SELECT DISTINCT make_key FROM vehicle_list WHERE kind = ''")]

    def models(self, make: str) -> list[str]:
        """Return the models of a make, folded for comparing."""
        sql = "SELECT DISTINCT model_key FROM vehicle_list WHERE kind = '' AND make_key = ?"
        return [model for (model,) in self._rows(sql, sort_words(make))]

    def sources(self) -> dict[str, SourceDocument]:
        """Return every source of the catalogue by id."""
        rows = self._rows("SELECT id, body FROM sources")
        return {name: msgspec.json.decode(body, type=SourceDocument) for name, body in rows}

    def operations(self) -> dict[str, OperationDocument]:
        """Return every operation of the catalogue by id."""
        rows = self._rows("SELECT id, body FROM operations")
        return {name: msgspec.json.decode(body, type=OperationDocument) for name, body in rows}

    def fixtures(self) -> dict[str, Fixture]:
        """Return every fixture of the catalogue by id."""
        rows = self._rows("SELECT id, body FROM fixtures")
        return {name: msgspec.json.decode(body, type=Fixture) for name, body in rows}

    def close(self) -> None:
        """Close this thread's connection; those of other threads close with their threads."""
        cursor = self._local.__dict__.pop("cursor", None)
        if cursor is not None:
            cursor.connection.close()

    def _prepared(self, table: str, name: str, gzip: bool, known: str | None) -> Prepared | None:
        tag, whole = (_GZIP if gzip else _PLAIN)[table]
        cursor = self._cursor()
        if known is not None and cursor.execute(tag, (name,)).fetchone() == (known,):
            return Prepared(known, b"")
        row = cursor.execute(whole, (name,)).fetchone()
        return Prepared(*row) if row else None

    def _rank_before(self, layer: str, after: list[str | int]) -> int:
        rows = self._rows(
            f"SELECT rank FROM {layer}.vehicles WHERE (make_key, model_key, year_first, id) <= (?, ?, ?, ?) "  # noqa: S608 - fixed parts
            "ORDER BY make_key DESC, model_key DESC, year_first DESC, id DESC LIMIT 1",
            *after,
        )
        return int(rows[0][0]) if rows else 0

    def _rows(self, sql: str, *values: object) -> _Rows:
        return self._cursor().execute(sql, values).fetchall()

    def _cursor(self) -> sqlite3.Cursor:
        """Return this thread's cursor. There is one, since making another costs a tenth of a look-up."""
        try:
            cursor: sqlite3.Cursor = self._local.cursor
        except AttributeError:
            connection = sqlite3.connect(_uri(self.path), uri=True, check_same_thread=False)
            connection.execute("PRAGMA mmap_size = 68719476736")  # read where the file lies, without copying
            connection.execute(f"PRAGMA cache_size = {_CACHE}")
            if self.base_path is not None:
                connection.execute("ATTACH ? AS base", (_uri(self.base_path),))
                connection.execute(f"PRAGMA base.cache_size = {_CACHE}")
                connection.execute("PRAGMA temp_store = MEMORY")
                connection.executescript(_VIEWS)
            cursor = self._local.cursor = connection.cursor()
        return cursor


def _uri(path: Path) -> str:
    return f"file:{quote(str(path.resolve()))}?mode=ro&immutable=1"


class _Where:
    """The conditions of a query and their values."""

    def __init__(self, text: str, *values: object) -> None:
        self.text = text
        self.values = list(values)

    def add(self, text: str, *values: object) -> None:
        self.text += f" AND {text}"
        self.values += values

    def words(self, column: str, text: str | None) -> None:
        if text is not None:
            self.add(f"{column} = ?", sort_words(text))

    def year(self, prefix: str, year: int | None) -> None:
        if year is not None:
            self.add(f"{prefix}year_first <= ? AND {prefix}year_last >= ?", year, year)


def _listed(query: VehicleQuery) -> _Where:
    """Return the conditions that a query puts on the rows of the vehicle list."""
    where = _Where("l.kind = ?", query.system_kind or "")
    where.words("l.make_key", query.make)
    where.words("l.model_key", query.model)
    where.year("l.", query.model_year)
    if query.market:
        where.add("instr(l.markets, ?)", f" {query.market} ")
    return where


def _after(token: str | None, filters: object) -> _Place:
    return page_token.read(token, filters, (str, str, int, str)) if token else None


class _Heading(Struct):
    """What decides an item's place in its list. Reading it from one item is cheaper than asking for all."""

    id: str = ""
    vehicle_id: str = ""
    make: str | None = None
    model: str = ""
    model_year_first: int = 0

    def sort_key(self) -> list[str | int]:
        if self.make is None:
            return [self.id]
        words = sort_words(self.make), sort_words(self.model)
        return [*words, self.model_year_first, self.vehicle_id or self.id]


_HEADING = msgspec.json.Decoder(_Heading)


def _place_of(row: tuple[Any, ...]) -> list[str | int]:
    return _HEADING.decode(row[0]).sort_key()


def _page(rows: _Rows, size: int, filters: object) -> bytes:
    """Join stored items into a page; a row beyond ``size`` says that another page follows."""
    body = b'{"items":[' + b",".join(row[0] for row in rows[:size]) + b"]"
    if len(rows) > size:
        token = page_token.make(_HEADING.decode(rows[size - 1][0]).sort_key(), filters)
        body += b',"next_page_token":"' + token.encode() + b'"'
    return body + b"}"


def _match_expression(text: str) -> str | None:
    """Every word must begin a word of the text. None if there is nothing to look for.

    Words end where the text index ends them: at whatever is neither letter nor digit.
    """
    composed = unicodedata.normalize("NFC", text)
    words = "".join(c if c.isalnum() else " " for c in composed).split()
    return " ".join(f'"{word}"*' for word in words) or None
