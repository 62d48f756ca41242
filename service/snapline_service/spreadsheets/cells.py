"""Single cells: what a value looks like in a file, and what a file's cell means in a column."""

import datetime as dt
import math
import re
from decimal import Decimal
from typing import Literal

from msgspec import Struct

from snapline_service.spreadsheets.tables import Column, Value

Mark = Literal["point", "comma"]
MM_PER_INCH = Decimal("25.4")  # exact by the international agreement of 1959
# What a spreadsheet program may take for a formula: OWASP, "CSV Injection". An apostrophe before it says that
# it is text; one more stands before those that are there already, so that taking one off gives the text back.
_TAKEN_FOR_FORMULA = re.compile(r"'*[=+\-@\t\r]")
_GUARDED = re.compile(r"'+[=+\-@\t\r]")
_PLAIN = re.compile(r"[+-]?\d+([eE][+-]?\d{1,3})?")
_FRACTION = re.compile(r"[+-]?(\d+\.\d*|\.\d+)([eE][+-]?\d{1,3})?")
_GROUPED = re.compile(r"[+-]?\d{1,3}(,\d{3})+(\.\d+)?")
_EITHER = re.compile(r"[+-]?[1-9]\d{0,2}[.,]\d{3}")
_DATE = re.compile(r"\d{1,4}[-./ ](\d{1,2}|[A-Za-z]{3,})([-./ ]\d{1,4})?|[A-Za-z]{3,}[-. ]\d{1,4}")
_TRUTHS = {"yes": True, "true": True, "no": False, "false": False}


class CellFault(Exception):
    """A cell that cannot be used."""

    def __init__(self, detail: str, mend: str) -> None:
        super().__init__(detail)
        self.detail, self.mend = detail, mend


class Unusable(Struct, frozen=True, kw_only=True):
    """A cell of a workbook that shows something and holds no value."""

    shown: str
    detail: str
    mend: str

    def __str__(self) -> str:
        return self.shown


Raw = str | float | bool | dt.date | dt.time | dt.timedelta | Unusable | None


class Reading(Struct, frozen=True):
    """How the numbers of a file are written. ``decimal`` None: nothing told, so doubt is refused."""

    decimal: Mark | None
    stated: bool = False
    guarded: bool = True


def text_of(value: Value) -> str:
    """Return a value as the text of a CSV cell, harmless in a spreadsheet program."""
    if value is None:
        return ""
    if isinstance(value, str):
        return f"'{value}" if _TAKEN_FOR_FORMULA.match(value) else value
    if isinstance(value, bool):
        return "yes" if value else "no"
    return repr(int(value) if float(value).is_integer() and abs(value) < 1e15 else float(value))


def value_of(column: Column, raw: Raw, reading: Reading, *, inches: bool = False) -> Value:
    """Return what a cell says in a column; empty is None. Raises CellFault."""
    if isinstance(raw, Unusable):
        raise CellFault(raw.detail, raw.mend)
    if isinstance(raw, dt.date | dt.time | dt.timedelta):
        return _day(column, raw)
    if isinstance(raw, str):
        if "\x00" in raw:
            raise CellFault("The text holds a null character.", "Leave it out.")
        raw = _unguarded(raw) if reading.guarded else raw
        if column.form != "text":
            raw = raw.strip()
    if raw is None or raw == "":
        return None
    if column.form in ("number", "integer"):
        return _measure(_number(raw, reading) * (MM_PER_INCH if inches else 1), column)
    if column.form == "yes_no":
        return _truth(raw)
    text = raw if isinstance(raw, str) else text_of(raw)
    return " ".join(text.split()) if column.form == "words" else text


def same(value: Value, old: Value) -> bool:
    """Whether two values are one in a spreadsheet, which keeps 15 significant digits."""
    if isinstance(value, bool | str) or isinstance(old, bool | str) or value is None or old is None:
        return value == old
    return math.isclose(value, old, rel_tol=1e-15, abs_tol=0.0)


def mark_of(text: str) -> Mark | Literal["either"] | None:
    """Return the decimal mark that a number shows, 'either' if it is not certain, None if it shows none."""
    text = _tidy(text)
    if _EITHER.fullmatch(text):
        return "either"
    as_point = _number_text(text) is not None
    as_comma = _number_text(_exchanged(text)) is not None
    return None if as_point == as_comma else "point" if as_point else "comma"


def _measure(found: Decimal, column: Column) -> float:
    number = float(found)
    if not math.isfinite(number):
        raise CellFault("The number is not finite.", "Give a number that is.")
    whole = column.form == "integer" and number.is_integer() and abs(number) < 1e15
    return int(number) if whole else number


def _number(raw: str | float, reading: Reading) -> Decimal:
    if isinstance(raw, bool):
        raise CellFault("The cell holds yes or no, not a number.", "Give a number.")
    if not isinstance(raw, str):
        return Decimal(repr(raw))
    text = _tidy(raw)
    decimal_mark = "," if reading.decimal == "comma" else "."
    if (
        _EITHER.fullmatch(text)
        and not reading.stated
        and (reading.decimal is None or decimal_mark not in text)
    ):
        whole, fraction = re.sub("[.,]", "", text), text.replace(",", ".")
        mend = f"Write {whole} or {fraction}, or state decimal=point or decimal=comma for the whole file."
        raise CellFault("It is not certain which number this is.", mend)
    found = _number_text(_exchanged(text) if reading.decimal == "comma" else text)
    if found is None:
        raise _not_a_number(text, reading)
    return Decimal(found)


def _not_a_number(text: str, reading: Reading) -> CellFault:
    if text.startswith("#"):
        return CellFault("The cell holds a spreadsheet program's error.", "Give a number.")
    if _DATE.fullmatch(text) and mark_of(text) is None:
        return CellFault("This is a date, or a spreadsheet program made one of it.", "Give the number again.")
    if (mark := mark_of(text)) in ("point", "comma"):
        detail = f"This is a text with a decimal {mark}, not a number."
        if reading.decimal:
            detail = f"This has a decimal {mark}, and the file is read with a decimal {reading.decimal}."
        return CellFault(detail, f"Write all numbers alike, or state decimal={mark}.")
    return CellFault("This is not a number.", "Give digits alone: the unit stands in the heading.")


def _number_text(text: str) -> str | None:
    if _PLAIN.fullmatch(text) or _FRACTION.fullmatch(text):
        return text
    return text.replace(",", "") if _GROUPED.fullmatch(text) else None


def _tidy(text: str) -> str:
    return text.strip().replace("\u2212", "-")


def _exchanged(text: str) -> str:
    return text.translate({ord(","): ".", ord("."): ","})


def _truth(raw: str | float) -> bool:
    found = raw if isinstance(raw, bool) else _TRUTHS.get(str(raw).casefold())
    if found is None:
        raise CellFault("This is neither yes nor no.", "Write yes or no.")
    return found


def _unguarded(text: str) -> str:
    if _GUARDED.match(text):
        return text[1:]
    if text.startswith("="):
        raise CellFault(
            "The cell holds a formula.", "Give its value, or write an apostrophe before the text."
        )
    return text


def _day(column: Column, raw: dt.date | dt.time | dt.timedelta) -> str:
    if column.form != "day" or not isinstance(raw, dt.date):
        raise CellFault(
            "A spreadsheet program made a date of this cell.", "Format the cell as text, and write it again."
        )
    return raw.strftime("%Y-%m-%d")
