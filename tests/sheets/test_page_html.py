"""The HTML writer: one file, whole by itself."""

import re
from html.parser import HTMLParser

import pytest

from sheets.documents import STOP, TAPES, ordinary
from snapline_service.sheets.document import SheetDocument, Statements, Table
from snapline_service.sheets.page_html import to_html

# HTML Living Standard, "Void elements".
VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"}
# The elements and attributes by which a page fetches or runs something.
FETCHING = {
    "script",
    "link",
    "img",
    "iframe",
    "object",
    "embed",
    "audio",
    "video",
    "base",
    "form",
    "use",
    "image",
}
REFERRING = {"src", "href", "xlink:href", "action", "data", "poster", "srcset", "style"}


class Page(HTMLParser):
    """A page read strictly: every element is closed in its turn."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(html)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] not in ("style", "title"):
            self.words.append(data)


def text_of(html: str) -> str:
    return " ".join(" ".join(Page(html).words).split())


@pytest.fixture(scope="module")
def html() -> str:
    return to_html(ordinary())


def test_it_is_well_formed_and_neither_runs_nor_fetches_anything(html: str) -> None:
    page = Page(html)
    for tag, attributes in page.elements:
        assert tag not in FETCHING
        assert not REFERRING & set(attributes)
        assert not [name for name in attributes if name.startswith("on")]
    assert set(re.findall(r"url\(([^)]*)\)", html)) <= {"#hatch-2", "#hatch-3"}
    assert "@import" not in html
    assert "http" not in html.replace("http://www.w3.org/2000/svg", "")


def test_names_within_the_page_are_unique(html: str) -> None:
    names = [attributes["id"] for _, attributes in Page(html).elements if "id" in attributes]
    assert len(names) == len(set(names))


def said(document: SheetDocument) -> list[str]:
    """Give every sentence, heading and cell of a document."""
    words: list[str] = []
    for section in document.sections:
        words.append(section.title)
        for block in section.blocks:
            words.append(block.title)
            match block:
                case Statements():
                    words += block.texts
                case Table():
                    words += [column.heading for column in block.columns]
                    words += [cell for row in block.rows for cell in row if isinstance(cell, str)]
    return words


def test_everything_that_the_document_says_is_there(html: str) -> None:
    text = text_of(html)
    for words in said(ordinary()):
        assert words in text


def test_every_cell_knows_its_heading_for_narrow_screens(html: str) -> None:
    headings = [attributes.get("data-heading") for tag, attributes in Page(html).elements if tag == "td"]
    assert headings
    assert {"Tape 1, mm", "As set"} <= set(headings)
    assert None not in headings


def test_what_stops_the_work_stands_before_all_other_statements(html: str) -> None:
    assert html.index(STOP.texts[0]) < html.index("Things to do") < html.index(TAPES.title)


def test_words_that_look_like_markup_stay_words() -> None:
    document = ordinary()
    (before, *_) = document.sections
    shrewd = Statements("<b>&", ('</ul><script>alert("1")</script>',))
    html = to_html(SheetDocument(document.title_block, (type(before)("t", "c", (shrewd,)),)))
    assert "script" not in {tag for tag, _ in Page(html).elements}
    assert '</ul><script>alert("1")</script>' in text_of(html)


def test_paper_and_page_breaks_are_asked_for(html: str) -> None:
    assert "@page{size:A4 portrait" in html
    assert "@page{size:letter portrait" in to_html(ordinary(), "letter")
    assert "break-before:page" in html
