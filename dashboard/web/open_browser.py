"""The browser, opened on an address with a token that no list of processes shows.

Every user of a machine sees the words of a process, and a browser is started with its address among them. So
it is started with the address of a private file instead, which sends it on.
"""

from __future__ import annotations

import html
import sys
import webbrowser
from contextlib import suppress
from pathlib import Path
from urllib.parse import urlsplit

from capture.host.private_files import others_may_read, runtime_folder, write_private

_SENDS_ON = """<!DOCTYPE html>
<html lang="en"><meta charset="utf-8"><meta name="referrer" content="no-referrer">
<meta http-equiv="refresh" content="0; url={address}"><title>tenths</title>
<p><a href="{address}">Open the dashboard</a></p></html>
"""


def open_browser(address: str) -> Path | None:
    """Opens *address* in the user's browser; the private file, to be removed, where it went through one."""
    if sys.platform == "win32":  # where other users do not see them
        webbrowser.open(address)
        return None
    file = private_page(address)
    if file is not None:
        webbrowser.open(file.as_uri())
    return file


def private_page(address: str) -> Path | None:
    """Writes the file that sends a browser on to *address*; None where nobody but its user can be kept out.

    It lies in the home folder and bears no dot, since a browser that the system confines reads nothing else.
    """
    page = _SENDS_ON.format(address=html.escape(address)).encode()
    for folder in (Path.home(), runtime_folder()):
        file = folder / f"tenths-{urlsplit(address).port}.html"
        with suppress(OSError):
            write_private(file, page)
            if not others_may_read(file):
                return file
            file.unlink()
    return None
