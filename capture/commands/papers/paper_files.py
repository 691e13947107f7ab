"""Files of papers that a command writes: a page, or a PDF of it by a browser."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import click

from capture.report.pdf import NoPdf, write_pdf


def now_text() -> str:
    """When a paper is written, ISO 8601 in UTC to the second."""
    return datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


def write_paper(text: str, out: Path) -> None:
    """Write the page *text* to *out*, by its ending as HTML or PDF; or a refusal in one line."""
    try:
        if out.suffix.lower() == ".pdf":
            write_pdf(text, out)
        else:
            out.write_text(text, "utf-8")
    except NoPdf as error:
        raise click.UsageError(str(error)) from None
    except OSError as error:
        raise click.UsageError(f"{out}: cannot be written: {error.strerror or error}") from None
