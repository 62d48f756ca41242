"""Read an edited spreadsheet back: what differs becomes a draft, by the same strict way as any import."""

from msgspec import Struct
from msgspec.structs import replace
from sqlmodel import Session

from snapline.wire.catalogue import CatalogueDocument
from snapline.wire.spreadsheets import CellProblem, Detected, SpreadsheetImportQuery, SpreadsheetReport
from snapline_service.access.people import Person
from snapline_service.catalogue import store
from snapline_service.catalogue.documents import canonical, content_hash, kind_of
from snapline_service.catalogue.draft_store import Change
from snapline_service.drafts import drafts
from snapline_service.drafts.actions import names_in
from snapline_service.errors import BadInput, Conflict, Fault, InvalidValue, NothingPublished
from snapline_service.faults import pointer
from snapline_service.spreadsheets import archives, csv_files, xlsx_files
from snapline_service.spreadsheets.applying import changed, retires
from snapline_service.spreadsheets.comparing import Book, Edit, Problems, edits
from snapline_service.spreadsheets.sheets import Table

MAX_BYTES = 20_000_000


class Found(Struct, frozen=True):
    """What a file would change, before anything is written."""

    report: SpreadsheetReport
    current: int
    documents: list[CatalogueDocument]
    retired: list[tuple[str, str]]


class Opened(Struct, frozen=True):
    """The sheets of a file, and the revision that it names."""

    tables: list[Table]
    revision: int | None = None


def open_file(body: bytes, asked: SpreadsheetImportQuery) -> Opened:
    """Return the sheets of a workbook, a ZIP file of CSV files, or a CSV file, told apart by their content.

    Raises InvalidValue, BodyTooLarge.
    """
    if not body:
        raise InvalidValue("The file is empty.", mend="Export a sheet, and edit that.")
    if not archives.is_archive(body):
        return Opened([csv_files.read(body, asked)])
    if "xl/workbook.xml" in archives.members(body):
        opened = Opened(*xlsx_files.read(body, asked))
    else:
        opened = Opened(*csv_files.read_zip(body, asked))
    if not opened.tables:
        raise InvalidValue("The file has no sheet of the catalogue.", mend="Export one, and edit that.")
    return opened


def find(session: Session, group_id: str, body: bytes, asked: SpreadsheetImportQuery) -> Found:
    """Return what a file changes, or what is wrong in it. Raises NothingPublished, InvalidValue."""
    opened = open_file(body, asked)
    newest = store.newest_revision(session, group_id)
    if newest is None:
        raise NothingPublished("The group has published nothing yet.", mend="Import documents first.")
    base = asked.base_revision or opened.revision or newest.number
    if base > newest.number or store.revision(session, group_id, base) is None:
        detail = f"There is no revision {base}."
        raise InvalidValue(detail, pointer="/base_revision", mend="Name the one that was exported.")
    book, problems = Book(session, group_id, base, newest.number), Problems()
    detected, by_document = [], dict[tuple[str, str], list[Edit]]()
    for table in opened.tables:
        rows = 0
        for edit in edits(table, book, problems, asked.units):
            rows += 1
            if edit:
                kind = edit.row.header.sheet.kind
                by_document.setdefault((kind, str(edit.keys[0])), []).append(edit)
        detected.append(_detected(table, rows, asked))
    documents, gone = _documents(session, group_id, book, by_document, problems)
    found = [edit for edits_of_one in by_document.values() for edit in edits_of_one]
    report = SpreadsheetReport(
        base_revision=base,
        rows=sum(one.rows for one in detected),
        changed_cells=sum(len(edit.cells) for edit in found if not edit.retires),
        changed_documents=len(documents) + len(gone),
        new_rows=sum(edit.is_new and not edit.retires for edit in found),
        retired_rows=sum(edit.retires for edit in found),
        detected=tuple(detected),
        problems=tuple(problems.told),
        more_problems=problems.more,
    )
    return Found(report, newest.number, documents, gone)


def keep(session: Session, group_id: str, person: Person, found: Found, note: str) -> SpreadsheetReport:
    """Put what a file changes into a new draft. Raises Conflict if a revision was published meanwhile."""
    bodies = {(kind_of(one), one.id): canonical(one) for one in found.documents}
    changes = [Change(*name, content_hash(body)) for name, body in bodies.items()]
    changes += [Change(*name, None) for name in found.retired]
    if not changes:
        return found.report
    draft = drafts.begin(session, group_id, person, note or "from a spreadsheet")
    if draft.base_revision != found.current:
        raise Conflict("Another revision was published meanwhile.", mend="Import the file again.")
    store.add_documents(session, group_id, [(content_hash(body), body) for body in bodies.values()])
    drafts.put_many(session, draft, person, changes)
    return replace(found.report, draft_id=draft.id)


def refuse(report: SpreadsheetReport) -> None:
    """Raise BadInput with a fault for each problem; its pointer is sheet, row and column name or letters."""
    faults = [
        Fault(
            pointer([part for part in (problem.sheet, problem.row, problem.name or problem.column) if part]),
            f"Sheet {problem.sheet}, row {problem.row}{_at(problem)}: {problem.detail}",
            problem.mend,
        )
        for problem in report.problems
    ]
    if report.more_problems:
        faults.append(Fault("", f"There are {report.more_problems:,} more problems.", "Mend these first."))
    if faults:
        raise BadInput(faults)


def _at(problem: CellProblem) -> str:
    value = f", '{problem.value[:80]}'" if problem.value else ""
    name = f" ({problem.name})" if problem.name else ""
    return f", column {problem.column}{name}{value}" if problem.column else ""


def _documents(
    session: Session,
    group_id: str,
    book: Book,
    by_document: dict[tuple[str, str], list[Edit]],
    problems: Problems,
) -> tuple[list[CatalogueDocument], list[tuple[str, str]]]:
    """Return the documents that change, and the names of those that are retired."""
    every = {(e.kind, e.name): e.hash for e in store.entries(session, group_id, book.current)}
    names = names_in(session, group_id, every)
    added = {name for kind, name in by_document if kind == "fixture" and (kind, name) not in every}
    names = replace(names, fixtures=names.fixtures | added)
    documents, gone = [], []
    for (kind, name), found in by_document.items():
        if retires(found):
            if (kind, name) in every:
                gone.append((kind, name))
            continue
        document = changed(book, name, found, names, problems)
        if document and content_hash(canonical(document)) != every.get((kind, name)):
            documents.append(document)
    return documents, gone


def _detected(table: Table, rows: int, asked: SpreadsheetImportQuery) -> Detected:
    return Detected(
        sheet=table.header.sheet.name,
        rows=rows,
        delimiter=table.delimiter,
        decimal=table.reading.decimal,
        encoding=table.encoding,
        encoding_confidence=table.encoding_confidence,
        units=asked.units or "mm",
        inch_columns=tuple(sorted(table.header.inches)),
    )
