"""How a CSV file is written: its encoding, its delimiter, its decimal mark."""

import codecs
import csv
import re
from collections import Counter
from collections.abc import Iterable
from typing import Literal

from msgspec import Struct

from snapline_service.errors import InvalidValue
from snapline_service.spreadsheets.cells import Mark, mark_of
from snapline_service.spreadsheets.tables import SHEETS

Confidence = Literal["stated", "certain", "likely"]
DELIMITERS = {"comma": ",", "semicolon": ";", "tab": "\t"}
_NAMES = {column.name for sheet in SHEETS.values() for column in sheet.all_columns}
_SEPARATOR = re.compile(r'(?P<quote>"?)sep=(?P<mark>[,;\t])(?P=quote)(\r\n|\r|\n)', re.IGNORECASE)
_BOMS = {codecs.BOM_UTF8: "utf-8", codecs.BOM_UTF16_LE: "utf-16-le", codecs.BOM_UTF16_BE: "utf-16-be"}


class Decoded(Struct, frozen=True):
    """The text of a file and how it was encoded."""

    text: str
    encoding: str
    confidence: Confidence


def decode(body: bytes, stated: str | None) -> Decoded:
    """Return a file's text. A byte order mark is certain, and so is what is valid UTF-8; the rest is likely.

    Raises InvalidValue.
    """
    if stated:
        return Decoded(_decoded(body, stated).removeprefix("\ufeff"), stated, "stated")
    for mark, encoding in _BOMS.items():
        if body.startswith(mark):
            return Decoded(_decoded(body[len(mark) :], encoding), encoding[:6].rstrip("-"), "certain")
    zeros = body[:200:2].count(0), body[1:200:2].count(0)
    if max(zeros) > 20:
        return Decoded(
            _decoded(body, "utf-16-be" if zeros[0] > zeros[1] else "utf-16-le"), "utf-16", "likely"
        )
    try:
        body.decode()
    except UnicodeDecodeError:
        return Decoded(_decoded(body, "windows-1252"), "windows-1252", "likely")
    return Decoded(_decoded(body, "utf-8"), "utf-8", "certain")


def separated(text: str) -> tuple[str | None, str]:
    """Return the delimiter that a first line ``sep=;`` tells, and what follows it."""
    told = _SEPARATOR.match(text)
    return (told["mark"], text[told.end() :]) if told else (None, text)


def delimiter_of(text: str, given: str | None) -> str:
    """Return the delimiter that is given, or that under which most headings are known ones.

    Raises InvalidValue if no heading is known, or some only under another than the one that is given.
    """
    begin = text[:20_000].replace("\r", "\n").split("\n")[0]

    def known(mark: str) -> int:
        return sum(normal(cell)[0] in _NAMES for cell in next(csv.reader([begin], delimiter=mark), []))

    names = {mark: name for name, mark in DELIMITERS.items()}
    best = max(names, key=known)
    if given and (known(given) or not known(best)):
        return given
    if given:
        detail = f"With a {names[given]} between the cells none of the headings is known."
        mend = f"They are known with a {names[best]}: state delimiter={names[best]}."
        raise InvalidValue(detail, pointer="/delimiter", mend=mend)
    if not known(best):
        detail = "The first line has none of the headings of a catalogue sheet."
        mend = "Export a sheet to see them: the first line of the file names the columns."
        raise InvalidValue(detail, pointer="/sheet", mend=mend)
    return best


def normal(heading: str) -> tuple[str, bool]:
    """Return the name of a heading's column, and whether the column is in inches (``along_in``)."""
    name = heading.strip().casefold()
    in_mm = f"{name[:-3]}_mm"
    return (in_mm, True) if name.endswith("_in") and in_mm in _NAMES else (name, False)


def decimal_of(texts: Iterable[str], delimiter: str) -> Mark | None:
    """Return the decimal mark that most numbers show; None if none does, or as many the one as the other.

    Where nothing tells, a comma between the cells leaves the point for numbers.
    """
    shown = Counter(mark_of(text) for text in texts if "." in text or "," in text)
    if shown["point"] != shown["comma"]:
        return "point" if shown["point"] > shown["comma"] else "comma"
    return "point" if delimiter == "," and not shown["point"] else None


def _decoded(body: bytes, encoding: str) -> str:
    try:
        text = body.decode(encoding)
        if "\x00" not in text:
            return text
        detail = "The file holds null characters."
        raise InvalidValue(
            detail, pointer="/encoding", mend="State its encoding, or save it as CSV in UTF-8."
        )
    except UnicodeDecodeError as error:
        detail = f"The file is not {encoding}: byte {error.start + 1:,} does not fit."
        raise InvalidValue(detail, pointer="/encoding", mend="Save it as CSV in UTF-8.") from None
