"""The publisher beside a capture: a process of its own, which may fail without harm to what is recorded."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from capture.commands.terminal import echo
from capture.shop.messages.broker import ADDRESS
from capture.shop.messages.settings import BadShopSettings, settings_in, words_of

PATIENCE = 8.0
"""Seconds in which the publisher may send what is left when the capture has ended."""


class PublishingBeside:
    """Publishes a folder's recordings while a capture runs, if the folder's settings say so."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Starts it; reports what is wrong with the settings, and the capture goes on."""
        try:
            settings = settings_in(self._folder)
        except BadShopSettings as error:
            echo(f"{error}; nothing is published", err=True)
            return
        if settings is None:
            return
        words = [sys.executable, "-m", "capture.cli", "publish", str(self._folder), "--tied"]
        # Every user of this machine sees a process's words, and only its own its environment.
        environment = {**os.environ, ADDRESS: settings.broker}
        # In a session of its own a Ctrl-C reaches only the capture, which stops the publisher last.
        self._process = subprocess.Popen(
            [*words, *words_of(settings, self._folder)],
            env=environment,
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            start_new_session=True,
        )

    def close(self) -> None:
        """Stops it; it sends what is left if it can."""
        if self._process is None:
            return
        self._process.terminate()
        try:
            self._process.wait(PATIENCE)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        if self._process.stdin is not None:
            self._process.stdin.close()
