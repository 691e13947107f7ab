"""`report` and `export` as their users run them."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
from html.parser import HTMLParser
from pathlib import Path

import pytest

RECORDINGS = Path(__file__).parents[4] / "recordings"
VOID = {"meta", "br", "line", "circle", "rect", "polyline"}


class Page(HTMLParser):
    """Reads a page strictly: every element closed in its order, every attribute and text kept."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.words: list[str] = []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


@pytest.fixture
def sleeve(tmp_path, fit_sheet_text, fit_recording):
    (tmp_path / "sleeve.toml").write_text(fit_sheet_text, "utf-8")
    fit_recording(tmp_path / "one.jsonl", note='<script>alert(1)</script> & "quoted"')
    return tmp_path


@pytest.fixture
def page(tenths, sleeve):
    tenths("report", "sleeve.toml", "-o", "record.html")
    return Page((sleeve / "record.html").read_text("utf-8"))


def test_a_record_is_one_page_that_needs_nothing_else(page):
    """No script, no frame, and no address in it: it opens the same on a computer without a network."""
    assert not {"script", "iframe", "img", "link", "object", "embed", "a"} & set(page.tags)
    assert all(name not in {"src", "href", "srcset", "data", "action"} for name, _ in page.attributes)
    assert "http" not in " ".join(value or "" for name, value in page.attributes if name != "content")
    assert page.tags.count("svg") >= 3


def test_a_persons_words_stay_words(page):
    assert '<script>alert(1)</script> & "quoted"' in page.text


def test_no_name_turns_a_size_about_or_hides_in_the_record(tenths, sleeve, fit_recording):
    """Marks of direction (UAX #9) show what follows backwards; a control shows nothing at all."""
    (sleeve / "one.jsonl").unlink()
    fit_recording(sleeve / "one.jsonl", note="wet \u202e210.55\u2066 \x1b[2J\x9b1m")
    tenths("report", "sleeve.toml", "-o", "record.html")
    text = (sleeve / "record.html").read_text("utf-8")

    assert "wet \ufffd210.55\ufffd \ufffd[2J\ufffd1m" in text
    assert not set("\u202e\u2066\x1b\x9b") & set(text)


def test_a_record_says_what_was_measured_with_what_and_how_it_was_judged(page, sleeve):
    digest = hashlib.sha256((sleeve / "one.jsonl").read_bytes()).hexdigest()

    for said in (
        digest,
        "Conforms",
        "guarded",
        "Probability of conformance",
        "plug",
        "mike",
        "Settings on masters",
        "21.00",
        "Uncertainty of the least clearance",
        "size of its master",
        "Monte Carlo",
        "Readings, raw and corrected",
        "55.00250000",
        "Cautions",
        "hexavalent chromium",
        "measured by, date",
        "one.jsonl",
        "tenths 0.1",
        "Plating",
        "strip to",
        "Two-point gauges do not see odd lobes",
    ):
        assert said in page.text, said


def test_what_was_set_aside_is_shown_with_its_reason(tenths, sleeve, fit_sheet_text):
    from capture.simulator.golden import Virtual

    shop = Virtual(sleeve / "two.jsonl", fit_sheet_text)
    shop.receive("plug", b"55.0021\r\n")
    shop.say("reject", "0", "chip", "<under>", "the", "tip")
    shop.close()
    tenths("report", "two.jsonl", "-o", "two.html")
    text = Page((sleeve / "two.html").read_text("utf-8")).text

    assert "chip <under> the tip" in text
    assert "55.0021" in text
    assert "No clearance yet" in text


def test_a_record_of_a_grind_has_its_passes(tenths, tmp_path):

    shutil.copy(RECORDINGS / "good.jsonl", tmp_path / "good.jsonl")
    tenths("report", "good.jsonl", "-o", "good.html")
    page = Page((tmp_path / "good.html").read_text("utf-8"))

    assert "Simulated: nothing in this record was measured." in page.text
    assert "sparked-out" in page.text
    assert "at-size" not in page.text  # the pages do not call it: it is 59 % sure to be inside the band
    assert "its shape is not known" in page.text


HOSTILE = (
    "<script>alert(1)</script>",
    "</table></body><iframe src='file:///etc/passwd'></iframe>",
    "<a href='javascript:alert(1)'>sign here</a>",
    "<img src=x onerror=alert(1)>",
    "{{ 7*7 }} {% include 'x' %}",
    "=HYPERLINK(0)",
    "(parenthesis) \\\\ /JS endobj",
)
"""What would do something where it is not taken as words: markup, templates, the syntax of a PDF."""
ACTIVE = (b"/JavaScript", b"/URI", b"/Launch", b"/EmbeddedFile", b"/OpenAction", b"/AcroForm", b"/SubmitForm")
"""What makes a PDF do something (ISO 32000-1, 12.6.4)."""


def words_printed(path) -> tuple[str, int]:
    """The words of a PDF as another program reads them, and the number of its pages."""
    if shutil.which("pdftotext") is None:
        if os.environ.get("CI"):
            pytest.fail("no pdftotext, and CI must have one")
        pytest.skip("no pdftotext: install Debian's poppler-utils to run this test")
    read = subprocess.run(["pdftotext", path, "-"], capture_output=True, check=True)
    text = read.stdout.decode("utf-8")
    return " ".join(text.split()), text.count("\f")


@pytest.mark.browser
def test_the_printed_record_of_a_small_job_is_two_pages(tenths, tmp_path):
    (tmp_path / "bore.jsonl").write_bytes((RECORDINGS / "bore.jsonl").read_bytes())
    tenths("report", "bore.jsonl", "-o", "record.pdf")

    assert words_printed(tmp_path / "record.pdf")[1] == 2


@pytest.mark.browser
def test_the_printed_record_of_both_parts_is_three_pages_and_says_all_of_it(tenths, sleeve):
    tenths("report", "sleeve.toml", "-o", "record.pdf")
    words, pages = words_printed(sleeve / "record.pdf")

    assert pages == 3
    for said in (
        hashlib.sha256((sleeve / "one.jsonl").read_bytes()).hexdigest(),
        "Conforms by the rule",
        "Probability of conformance",
        "Settings on masters",
        "Uncertainty of the least clearance",
        "Readings, raw and corrected",
        "55.00250000",
        "hexavalent chromium",
        "measured by, date",
        "strip to",
    ):
        assert said in words, said
    assert "\ufffd" not in words


@pytest.mark.browser
def test_what_is_printed_of_hostile_names_is_words_and_does_nothing(
    tenths, tmp_path, fit_sheet_text, fit_recording
):
    sheet = fit_sheet_text.replace('name = "sleeve"', f'name = "{HOSTILE[1]}"')
    fit_recording(tmp_path / "one.jsonl", sheet, note=" | ".join(HOSTILE))
    tenths("report", "one.jsonl", "-o", "record.pdf")
    words, pages = words_printed(tmp_path / "record.pdf")
    data = (tmp_path / "record.pdf").read_bytes()

    for one in HOSTILE:
        assert one.replace(" ", "") in words.replace(" ", ""), one
    assert "root:" not in words
    assert pages <= 3
    assert [one for one in ACTIVE if one in data] == []


@pytest.mark.parametrize(
    "words", [("sleeve.toml", "-o", "x.doc"), ("sleeve.toml", "sleeve.toml", "-o", "x.html")]
)
def test_a_wrong_report_is_refused_in_one_line(tenths, sleeve, words):
    assert len(tenths("report", *words, status=2).splitlines()) == 1


def test_a_table_goes_into_every_format_and_back(tenths, sleeve):
    import pandas as pd

    for ending in ("csv", "parquet", "json"):
        tenths("export", "one.jsonl", "-o", f"x.{ending}")
    plain = json.loads((sleeve / "x.json").read_text("utf-8"))
    rows = plain["rows"]
    csv = pd.read_csv(sleeve / "x.csv")
    parquet = pd.read_parquet(sleeve / "x.parquet")

    assert len(rows) == len(csv) == len(parquet) == 18 + 15
    for name in ("z_mm", "value_mm", "value_20c_mm", "u_mm", "temperature_degC"):
        assert [row[name] for row in rows] == csv[name].tolist() == parquet[name].tolist()
    assert plain["sha256"] == hashlib.sha256((sleeve / "one.jsonl").read_bytes()).hexdigest()


def test_units_stand_beside_the_columns_as_ucum_codes(tenths, sleeve):
    """UCUM: mm, s, deg, Cel (Unified Code for Units of Measure)."""
    import pyarrow.parquet as pq

    tenths("export", "one.jsonl", "-o", "x.parquet", "--what", "readings")
    schema = pq.read_schema(sleeve / "x.parquet")

    units = {field.name: field.metadata[b"unit_ucum"] for field in schema}
    assert units["value_mm"] == b"mm"
    assert units["value_degC"] == b"Cel"
    assert schema.metadata[b"recording"] == b"one.jsonl"


def test_columns_are_explained(tenths):
    text = tenths("export", "--columns", "--what", "passes")

    assert "predicted_mm" in text
    assert "Cold size when nothing more comes off." in text


@pytest.mark.parametrize(
    ("words", "due"),
    [
        (("one.jsonl", "-o", "x.qif"), "no package registry"),
        (("one.jsonl", "-o", "x.xls"), "due a name that ends in .csv"),
        (("one.jsonl",), "due a recording and -o FILE"),
        (("one.jsonl", "-o", "no/such/folder/x.csv"), "cannot be written"),
    ],
)
def test_a_wrong_export_is_refused_in_one_line(tenths, sleeve, words, due):
    said = tenths("export", *words, status=2)

    assert due in said
    assert len(said.splitlines()) == 1
