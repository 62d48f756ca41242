"""Sheets in a real browser: no lettering overlaps or is cut off, a telephone shows all of it, paper takes it.

Boxes are those of the lettering as the browser sets it, not our estimate.
"""

import io
import json
import os
import re
import shutil
import subprocess
from collections.abc import Iterator
from html import escape, unescape
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from conftest import new_database, settings_in
from running import running
from service.setups.job import COMPLETE, Job
from snapline import Snapline
from snapline.wire.scope import RepairLine
from snapline.wire.setup_setting_out import Units
from snapline.wire.setups import SetupRequest
from snapline_service import database
from snapline_service.demo import scenario

REQUIRED = os.environ.get("SNAPLINE_REQUIRE_CHROMIUM") == "1"
TELEPHONE_PX = 360
TWO_STAGES = Job("brennhavik-skarra-2024-eu", "night-vision-grid")

# Measures every framed page: its width, its smallest cell lettering, and every SVG text as a quadrilateral.
MEASURE = """
const quads = svg => [...svg.querySelectorAll('text')].filter(t => t.textContent.trim()).map(t => {
  const box = t.getBBox(), [size, y] = ['font-size', 'y'].map(name => parseFloat(t.getAttribute(name)));
  const m = svg.getScreenCTM().inverse().multiply(t.getScreenCTM());
  const corner = (x, y) => [m.a * x + m.c * y + m.e, m.b * x + m.d * y + m.f];
  const top = y - 0.75 * size, bottom = y + 0.22 * size;
  return {text: t.textContent, corners: [corner(box.x, top), corner(box.x + box.width, top),
    corner(box.x + box.width, bottom), corner(box.x, bottom)]};
});
const apart = (a, b) => [a, b].some(q => [0, 1].some(i => {
  const nx = q[i + 1][1] - q[i][1], ny = q[i][0] - q[i + 1][0];
  const on = p => p.map(([x, y]) => x * nx + y * ny), pa = on(a), pb = on(b);
  return Math.max(...pa) <= Math.min(...pb) + 1e-6 || Math.max(...pb) <= Math.min(...pa) + 1e-6;
}));
const faults = svg => {
  const all = quads(svg), view = svg.viewBox.baseVal, found = [];
  all.forEach((a, i) => {
    if (a.corners.some(([x, y]) => x < 0 || y < 0 || x > view.width || y > view.height))
      found.push('cut off: ' + a.text);
    all.slice(0, i).forEach(b => { if (!apart(a.corners, b.corners)) found.push(b.text + ' / ' + a.text); });
  });
  return found;
};
addEventListener('load', () => {
  const results = [...document.querySelectorAll('iframe')].map(frame => {
    const page = frame.contentDocument, sizes = [...page.querySelectorAll('td, th')].map(
      cell => parseFloat(frame.contentWindow.getComputedStyle(cell).fontSize));
    const width = page.documentElement.scrollWidth;
    return {name: frame.title, width, smallest: Math.min(...sizes, 99),
      texts: page.querySelectorAll('svg text').length,
      faults: [...page.querySelectorAll('svg')].flatMap(faults)};
  });
  document.getElementById('results').textContent = JSON.stringify(results);
});
"""


@pytest.fixture(scope="module")
def chromium() -> str:
    found = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if found is None:
        assert not REQUIRED, "Chromium is required here and not installed"
        pytest.skip("NOT TESTED: sheets in a real browser. On Debian: apt-get install chromium")
    return found


def run(chromium: str, *options: str) -> str:
    command = [chromium, "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", *options]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def client(chromium: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Snapline]:
    folder = tmp_path_factory.mktemp("sheets")
    settings = settings_in(folder, new_database("sqlite", folder, None))
    database.migrate(settings.database)
    key = scenario.load(settings)
    with running(settings) as service, Snapline(service.url, key) as client:
        yield client


def measured(
    chromium: str, folder: Path, pages: dict[str, str], width_px: int = TELEPHONE_PX
) -> list[dict[str, Any]]:
    """Lay pages out in the browser, each in a frame of its own, and give what it measures."""
    frames = "".join(
        f'<iframe title="{escape(name)}" style="width:{width_px}px;height:600px;border:0" '
        f'srcdoc="{escape(page)}"></iframe>'
        for name, page in pages.items()
    )
    path = folder / "frames.html"
    path.write_text(
        f'<!DOCTYPE html><meta charset="utf-8"><script>{MEASURE}</script><pre id="results"></pre>{frames}'
    )
    dom = run(chromium, "--dump-dom", path.as_uri())
    found = re.search(r'<pre id="results">(.*?)</pre>', dom, re.DOTALL)
    assert found
    results: list[dict[str, Any]] = json.loads(unescape(found[1]))
    assert len(results) == len(pages)
    return results


def html_of(client: Snapline, units: Units) -> dict[str, str]:
    return {
        str(job): client.setups.sheet_html(
            SetupRequest(vehicle_id=job.vehicle_id, procedure_id=job.procedure_id, units=units)
        )
        for job in COMPLETE
    }


@pytest.mark.parametrize("units", ["mm", "in"])
def test_every_sheet_is_whole_on_a_telephone(
    chromium: str, client: Snapline, tmp_path: Path, units: Units
) -> None:
    for result in measured(chromium, tmp_path, html_of(client, units)):
        assert result["width"] <= TELEPHONE_PX, result["name"]  # nothing to scroll sideways
        assert result["smallest"] >= 16, result["name"]
        assert result["texts"] > 10, result["name"]
        assert result["faults"] == [], result["name"]


def test_every_drawing_is_legible(chromium: str, client: Snapline, tmp_path: Path) -> None:
    drawings = {
        f"{job}/{stage.id}": client.setups.drawing(
            vehicle_id=job.vehicle_id, procedure_id=job.procedure_id, drawn_stage=stage.id
        )
        for job in COMPLETE
        for stage in job.procedure.stages
    }
    for result in measured(chromium, tmp_path, drawings, width_px=1200):
        assert result["texts"] > 10, result["name"]
        assert result["faults"] == [], result["name"]


@pytest.fixture
def visit_pages(client: Snapline) -> dict[str, str]:
    """The sheets of a visit planned at one site after the other."""
    sites = [site.id for site in client.sites.list()]
    lines = (RepairLine(operation="windscreen", extent="replaced"), RepairLine(operation="rear bumper cover"))
    return {
        f"{vehicle_id} at {site}": client.visits.sheet_html(
            vehicle_id=vehicle_id, operations=lines, date="2027-06-15", sites=(site,)
        )
        for vehicle_id in sorted({job.vehicle_id for job in COMPLETE})
        for site in sites
    }


@pytest.mark.parametrize("width_px", [TELEPHONE_PX, 1000])
def test_every_visits_sheet_is_whole(
    chromium: str, visit_pages: dict[str, str], tmp_path: Path, width_px: int
) -> None:
    assert sum("where the car stands" in page for page in visit_pages.values()) >= 10
    for result in measured(chromium, tmp_path, visit_pages, width_px=width_px):
        assert result["width"] <= width_px, result["name"]
        assert result["faults"] == [], result["name"]


def test_the_measure_finds_what_overlaps_and_what_is_cut_off(chromium: str, tmp_path: Path) -> None:
    svg = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 100" font-family="Helvetica">{}</svg>'
    letters = '<text x="{}" y="{}" font-size="4">{}</text>'
    spoilt = svg.format(
        letters.format(10, 20, "under")
        + letters.format(12, 21, "over")
        + letters.format(96, 50, "beyond")
        + letters.format(10, 80, "alone")
    )
    (result,) = measured(chromium, tmp_path, {"spoilt": spoilt})
    assert result["faults"] == ["under / over", "cut off: beyond"]


def test_printed_each_part_begins_a_page_of_its_paper(
    chromium: str, client: Snapline, tmp_path: Path
) -> None:
    page, printed = tmp_path / "sheet.html", tmp_path / "sheet.pdf"
    page.write_text(
        client.setups.sheet_html(
            vehicle_id=TWO_STAGES.vehicle_id, procedure_id=TWO_STAGES.procedure_id, paper="letter"
        )
    )
    run(chromium, "--no-pdf-header-footer", f"--print-to-pdf={printed}", page.as_uri())
    pages = PdfReader(io.BytesIO(printed.read_bytes())).pages
    sizes = {(round(float(p.mediabox.width)), round(float(p.mediabox.height))) for p in pages}
    assert sizes == {(612, 792)}  # 8 1/2 by 11 inches of 72 points
    texts = [" ".join(p.extract_text().split()) for p in pages]
    for stage in TWO_STAGES.procedure.stages:
        (begun,) = [text for text in texts if f"Stage: {stage.name}" in text]
        assert begun.startswith("INVENTED DATA")
