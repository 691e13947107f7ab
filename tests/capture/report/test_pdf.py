"""A PDF by a browser of this computer, which is a script here."""

from __future__ import annotations

import sys

import pytest

from capture.report.pdf import NoPdf, browser, write_pdf


@pytest.fixture
def as_browser(tmp_path, monkeypatch):
    """Makes a browser of a few lines of Python, which find the page in `page` and write `printed`."""

    def script(body):
        path = tmp_path / "browser"
        path.write_text(
            f"#!{sys.executable}\nimport sys, urllib.parse, urllib.request, pathlib\n"
            "page = pathlib.Path(urllib.request.url2pathname(urllib.parse.urlparse(sys.argv[-1]).path))\n"
            "printed = pathlib.Path(next(a for a in sys.argv if a.startswith('--print-to-pdf='))[15:])\n"
            + body,
            "utf-8",
        )
        path.chmod(0o755)
        monkeypatch.setenv("BROWSER_FOR_PDF", str(path))

    return script


def test_what_the_browser_prints_is_written(as_browser, tmp_path):
    as_browser("printed.write_bytes(b'%PDF-1.4 ' + page.read_bytes())\n")
    write_pdf("<p>9 µm</p>", tmp_path / "out.pdf")

    assert (tmp_path / "out.pdf").read_bytes() == "%PDF-1.4 <p>9 µm</p>".encode()


@pytest.mark.parametrize("body", ["sys.exit('no display')\n", "printed.write_text('no display')\n"])
def test_a_browser_that_prints_nothing_leaves_no_file_and_says_what_to_do(as_browser, tmp_path, body):
    as_browser(body)
    with pytest.raises(NoPdf, match=r"write -o FILE\.html"):
        write_pdf("<p>x</p>", tmp_path / "out.pdf")
    assert not (tmp_path / "out.pdf").exists()


def test_a_browser_that_is_not_there_is_said(monkeypatch, tmp_path):
    monkeypatch.setenv("BROWSER_FOR_PDF", str(tmp_path / "none"))
    with pytest.raises(NoPdf, match="could not be run"):
        write_pdf("<p>x</p>", tmp_path / "out.pdf")


def test_without_any_browser_it_is_said_what_to_do(monkeypatch, tmp_path):
    monkeypatch.delenv("BROWSER_FOR_PDF", raising=False)
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr("capture.report.pdf.PLACES", ())

    assert browser() is None
    with pytest.raises(NoPdf, match="no Chromium, Chrome or Edge was found"):
        write_pdf("<p>x</p>", tmp_path / "out.pdf")
