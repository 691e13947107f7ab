"""Makes README's pictures anew from the demo, in a real Chromium: ``python .readme/renew.py``."""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from shutil import which

from playwright.sync_api import sync_playwright

HERE = Path(__file__).parent
CHROMIUM = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update"]
PICTURES = [
    # words of the demo, page, what the recording must show, how often, seconds to wait then
    ("grinding", ["--speed", "20"], "", '"what":"warm"', 1, 0.5),
    ("bore", ["--bore"], "#bore", '"kind":"taken"', 11, 4.5),
]


def main() -> None:
    """Run each demo until its recording shows what the picture is to show."""
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=which("chromium"), args=CHROMIUM)
        page = browser.new_page(viewport={"width": 1920, "height": 1080})
        for name, words, address, sign, often, pause in PICTURES:
            with tempfile.TemporaryDirectory() as folder:
                demo = subprocess.Popen(
                    [sys.executable, "-m", "capture.cli", "demo", "--no-open", "--folder", folder, *words],
                    stdout=subprocess.PIPE,
                    text=True,
                )
                try:
                    page.goto(_address(demo) + address)
                    while _count(Path(folder), sign) < often:
                        time.sleep(0.2)
                    time.sleep(pause)
                    page.screenshot(path=str(HERE / f"{name}.png"))
                finally:
                    demo.terminate()
                    demo.wait()
        browser.close()


def _address(demo: subprocess.Popen[str]) -> str:
    for line in demo.stdout or ():
        if found := re.search(r"http://\S+", line):
            return found[0]
    raise SystemExit("the demo's screen did not start")


def _count(folder: Path, sign: str) -> int:
    return sum(path.read_text("utf-8").count(sign) for path in folder.glob("*.jsonl"))


if __name__ == "__main__":
    main()
