"""What the changed rows make of a document, checked as strictly as any import."""

import copy
from typing import Any

from snapline.wire.catalogue import CatalogueDocument
from snapline_service.catalogue.documents import from_json
from snapline_service.catalogue.references import Names, check
from snapline_service.errors import Fault
from snapline_service.spreadsheets.comparing import Book, Edit, Problems
from snapline_service.spreadsheets.tables import EMPTY, Column

_RETIRED = "It is no longer there: another revision retired it since the export."


def changed(
    book: Book, name: str, edits: list[Edit], names: Names, problems: Problems
) -> CatalogueDocument | None:
    """Return what rows about one document make of it; None if it is retired or there are problems."""
    kind = edits[0].row.header.sheet.kind
    document = book.document(kind, name)
    own = [edit for edit in edits if not edit.row.header.sheet.levels]
    if any(edit.retires for edit in own):
        return None
    if document is None:
        if not own or not own[0].is_new:
            detail = _RETIRED if own else f"There is no {kind} '{name[:80]}'."
            for edit in edits:
                _tell(edit, f"{kind}_id", detail, "Correct it, or add it first.", problems)
            return None
        document = {**copy.deepcopy(EMPTY[kind]), "id": name}
    before = len(problems.told) + problems.more
    for edit in sorted(edits, key=lambda one: one.retires):
        _apply(document, edit, book, problems)
    if len(problems.told) + problems.more > before:
        return None
    found, faults = from_json(document)
    faults = [*faults, *(check(found, names) if found else ())]
    for fault in faults:
        _place(document, fault, edits, problems)
    return None if faults else found


def retires(edits: list[Edit]) -> bool:
    """Whether rows about one document retire it."""
    return any(edit.retires and not edit.row.header.sheet.levels for edit in edits)


def _apply(document: dict[str, Any], edit: Edit, book: Book, problems: Problems) -> None:
    sheet = edit.row.header.sheet
    item = next((found for keys, found in sheet.items(document) if keys == edit.keys), None)
    if edit.retires:
        holder = sheet.holder(document, edit.keys)
        if isinstance(holder, list) and item is not None:
            holder.remove(item)
        return
    if item is None:
        holder = sheet.holder(document, edit.keys)
        if not edit.is_new or isinstance(holder, Column):
            name = holder.name if isinstance(holder, Column) else sheet.keys[-1].name
            detail = "There is no such thing here." if edit.is_new else _RETIRED
            _tell(edit, name, detail, "Correct it: rows are added to what is there.", problems)
            return
        item = {}
        for column, value in zip(reversed(sheet.keys), reversed(edit.keys), strict=True):
            if len(item) < len(sheet.levels[-1].keys):
                column.put(item, value)
        holder.append(item)
    for column in sheet.columns:
        if column.name in edit.cells:
            value, old = edit.cells[column.name]
            now = column.of(item)
            if book.base != book.current and now not in (old, value):
                detail = f"It was {old!s} in revision {book.base}, and is {now!s} in revision {book.current}."
                _tell(edit, column.name, detail, "Export again, and make the change there.", problems)
            else:
                column.put(item, value)


def _place(document: dict[str, Any], fault: Fault, edits: list[Edit], problems: Problems) -> None:
    """Tell a fault of a document at the row and cell that most likely made it."""
    best, longest = edits[0], -1
    for edit in edits:
        at = edit.row.header.sheet.pointer(document, edit.keys)
        if at is not None and f"{fault.pointer}/".startswith(f"{at}/") and len(at) > longest:
            best, longest = edit, len(at)
    inside = (fault.pointer[longest:] if longest >= 0 else "").split("/")[1:]
    name = _column_at(best, inside)
    _tell(best, name, fault.detail if name else f"{fault.pointer}: {fault.detail}", fault.mend, problems)


def _column_at(edit: Edit, inside: list[str]) -> str | None:
    """Return the column of a field, or of one in what the field holds: best one that the row changes."""
    sheet = edit.row.header.sheet
    fits = [
        column.name
        for column in (*sheet.columns, *sheet.keys)
        if inside and all(a == b for a, b in zip(inside, column.steps, strict=False))
    ]
    return next((name for name in fits if name in edit.cells), fits[0] if fits else None)


def _tell(edit: Edit, name: str | None, detail: str, mend: str, problems: Problems) -> None:
    problems.add(edit.row.problem(name, detail, mend))
