"""The PDF writer, read back by another library."""

import io
import re

import pytest
from pypdf import PdfReader

from sheets.documents import ordinary
from snapline_service.sheets.drawing import Drawing, Polygon, Text
from snapline_service.sheets.pages import pages
from snapline_service.sheets.pdf import to_pdf

POINTS_PER_MM = 72 / 25.4  # ISO 32000: user space has 72 units to the inch


def written(*drawings: Drawing) -> PdfReader:
    return PdfReader(io.BytesIO(to_pdf(drawings, title="A sheet", subject="Setting-out sheet")))


def one_text(text: str) -> str:
    drawing = Drawing(210.0, 297.0, (Text((30.0, 30.0), text),), "t", "d")
    return written(drawing).pages[0].extract_text()


@pytest.mark.parametrize(("paper", "size"), [("a4", (210.0, 297.0)), ("letter", (215.9, 279.4))])
def test_every_drawing_is_a_page_of_its_own_size(paper: str, size: tuple[float, float]) -> None:
    reader = written(*pages(ordinary(), "letter" if paper == "letter" else "a4"))
    assert len(reader.pages) == 3
    for page in reader.pages:
        width, height = float(page.mediabox.width), float(page.mediabox.height)
        assert (width / POINTS_PER_MM, height / POINTS_PER_MM) == pytest.approx(size, abs=0.01)


def test_the_words_on_paper_are_the_words_drawn() -> None:
    drawings = pages(ordinary())
    for drawing, page in zip(drawings, written(*drawings).pages, strict=True):
        said = " ".join(page.extract_text().split())
        for item in drawing.items:
            if isinstance(item, Text):
                assert item.text in said


def test_only_black_and_white_are_used() -> None:
    for page in written(*pages(ordinary())).pages:
        contents = page.get_contents()
        assert contents is not None
        stream = contents.get_data().decode("latin-1")
        assert set(re.findall(r"(?m)^([\d.]+) [gG]$|(?<=\s)([\d.]+) [gG](?=\s)", stream)) <= {
            ("1", ""), ("0", ""), ("", "1"), ("", "0"),
        }  # fmt: skip
        colours = re.findall(r"([\d.]+ [\d.]+ [\d.]+) (?:rg|RG)\b", stream)
        assert set(colours) <= {"0 0 0"}  # the state that a page starts in


def test_equal_drawings_give_equal_files() -> None:
    first, second = (to_pdf(pages(ordinary()), title="t", subject="s") for _ in range(2))
    assert first == second


def test_title_and_subject_are_stated() -> None:
    information = written(*pages(ordinary())).metadata
    assert information is not None
    assert (information.title, information.subject) == ("A sheet", "Setting-out sheet")


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("Dežela naïve façade – 0.3°", "Dežela naïve façade – 0.3°"),
        ("Kőröm Ąę", "Koröm Ae"),  # Windows-1252 has no ő, Ą and ę
        ("字 front", "? front"),
    ],
)
def test_letters_that_the_font_lacks_lose_their_accent_or_are_owned_up_to(text: str, read: str) -> None:
    assert one_text(text).strip() == read


def test_a_hatched_outline_is_filled_with_strokes_that_stay_inside() -> None:
    square = ((50.0, 50.0), (80.0, 50.0), (80.0, 70.0), (50.0, 70.0))
    drawing = Drawing(210.0, 297.0, (Polygon(square, None, "hatch"),), "t", "d")
    contents = written(drawing).pages[0].get_contents()
    assert contents is not None
    stream = contents.get_data().decode("latin-1")
    assert re.search(r"\bW\b", stream)  # clipped
    strokes = re.findall(r"([\d.-]+) ([\d.-]+) m ([\d.-]+) ([\d.-]+) l S", stream)
    assert len(strokes) > 10
    for x0, y0, x1, y1 in (map(float, stroke) for stroke in strokes):
        assert x1 - x0 == pytest.approx(y1 - y0)  # 45 degrees
