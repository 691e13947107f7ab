"""The page Certificates in a real Chromium: overdue said, a certificate read and written onto the sheet."""

from __future__ import annotations

import pytest

from capture.sheet.reader import read_sheet
from tests.capture.analysis.test_calibration_certificate import certificate
from tests.capture.commands.papers.test_certificate import SHEET

pytestmark = [pytest.mark.browser, pytest.mark.timeout(400)]


def test_an_overdue_gauge_is_said_and_its_masters_certificate_joins_the_sheet(show, tmp_path):
    (tmp_path / "ring.xml").write_bytes(certificate())
    sheet = tmp_path / "sleeve.toml"
    sheet.write_text(SHEET, "utf-8")
    screen = show(str(tmp_path))
    page = screen.page
    page.click('#links a[data-page="certificates"]')
    page.wait_for_selector("#certificates-body .box")
    first = page.inner_text("#certificates-body .box >> nth=0")

    with page.expect_file_chooser() as chosen:
        page.click("#certificates-choose")
    chosen.value.set_files(tmp_path / "ring.xml")
    page.wait_for_selector("#certificates-keep")
    page.fill("#certificates-due", "2999-05-01")
    page.click("#certificates-keep")
    screen.until("certificates-said", "master_size = 55.0003")
    page.wait_for_selector("#certificates-body td:text('A-17')")

    assert "mike was due on 1999-12-31" in first
    assert "OVERDUE" in first
    assert read_sheet(sheet.read_text("utf-8"), "sheet")[0].gauges[0].master_expanded == 0.0005
