"""A PDF of a page, by a browser that is already on this computer."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

BROWSERS = (
    *("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome"),
    *("microsoft-edge", "microsoft-edge-stable", "msedge"),
)
PLACES = (
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
    r"C:\Program Files\Google\Chrome\Application\chrome.exe",
    r"C:\Program Files (x86)\Microsoft\Edge\Application\msedge.exe",
    r"C:\Program Files\Microsoft\Edge\Application\msedge.exe",
)
PATIENCE = 120.0
"""Seconds that a browser may take."""


class NoPdf(Exception):
    """No PDF could be made: why, and what to do."""


def browser() -> str | None:
    """A browser that can print a page to PDF: the one named in BROWSER_FOR_PDF, else one that is found."""
    named = os.environ.get("BROWSER_FOR_PDF")
    if named:
        return named
    found = (shutil.which(name) for name in BROWSERS)
    return next((path for path in found if path), None) or next(
        (path for path in PLACES if Path(path).exists()), None
    )


def write_pdf(page: str, path: Path) -> None:
    """Print *page* into *path*.

    Raises:
        NoPdf: No browser was found, or it failed.
    """
    program = browser()
    if program is None:
        raise NoPdf(
            "no Chromium, Chrome or Edge was found to make a PDF: write -o FILE.html, open it in any browser "
            "and print it to a file, or name a browser in BROWSER_FOR_PDF"
        )
    with tempfile.TemporaryDirectory(prefix="tenths-", ignore_cleanup_errors=True) as folder:
        source, printed = Path(folder, "record.html"), Path(folder, "record.pdf")
        source.write_text(page, "utf-8")
        done = _printed(program, source, printed, Path(folder, "profile"))
        if not printed.exists() or not printed.read_bytes().startswith(b"%PDF"):
            raise NoPdf(
                f"{program} made no PDF: {done.strip()[-300:] or 'it said nothing'}; write -o FILE.html"
            )
        shutil.copyfile(printed, path)


def _printed(program: str, source: Path, printed: Path, profile: Path) -> str:
    # A page of our own with no script and nothing to fetch: it may run without the sandbox that root lacks.
    command = [
        program,
        "--headless",
        "--disable-gpu",
        *(["--no-sandbox"] if getattr(os, "geteuid", lambda: 1)() == 0 else []),
        f"--user-data-dir={profile}",
        "--no-pdf-header-footer",
        f"--print-to-pdf={printed}",
        source.as_uri(),
    ]
    try:
        done = subprocess.run(command, capture_output=True, timeout=PATIENCE, check=False)
    except (OSError, subprocess.TimeoutExpired) as error:
        raise NoPdf(f"{program} could not be run: {error}; write -o FILE.html") from None
    return done.stderr.decode("utf-8", "replace")
