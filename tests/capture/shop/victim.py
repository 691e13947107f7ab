"""Publishes a folder and is killed, many times, then once until it is done.

``victim.py FOLDER BROKER TIMES SEED``

Each publisher is a process of its own that is killed at a random moment; only the imports are shared.
"""

from __future__ import annotations

import os
import signal
import sys
import time
from pathlib import Path
from random import Random

from capture.shop.messages.broker import broker_of
from capture.shop.publish.publisher import Publisher


def publish(folder: Path, url: str) -> None:
    publisher = Publisher(folder, "g1", broker_of(url), sys.exit)
    while not (publisher.done and publisher.stored):
        publisher.turn()
    publisher.close()


def main() -> None:
    folder, url, times, seed = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]), int(sys.argv[4])
    random = Random(seed)  # noqa: S311 - moments
    for _ in range(times):
        child = os.fork()
        if child == 0:
            try:
                publish(folder, url)
            finally:
                os._exit(0)
        time.sleep(random.uniform(0.02, 0.14))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
    publish(folder, url)


main()
