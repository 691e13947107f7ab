"""The loop of every fuzzer: seeds from a corpus, mutated, given to a target that may only answer or refuse.

``python tests/fuzz/recording.py`` (or another script of this folder) goes on for ``--seconds`` or for
``--count`` inputs. With the atheris package in place and ``--coverage``, that library mutates by
coverage instead of our own loop; seeds and targets are the same. An input that the target cannot
bear, or that takes more than `SLOW` seconds, is kept beside the corpus as ``found-…``: mend the
fault, then rename it, so that it is tried for ever.
"""

from __future__ import annotations

import argparse
import gc
import hashlib
import random
import sys
import tempfile
import time
import traceback
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from types import FunctionType

CORPUS = Path(__file__).with_name("corpus")
SLOW = 10.0
LONGEST = 1 << 16
TOKENS = (
    b"null", b"true", b"-0.0", b"1e999", b"-1e308", b"NaN", b"9223372036854775808", b"-1", b"1" * 400,
    b'"', b"\\", b"\\ud800", b"\0", b"\n", b"\r\n", b"\xff", b"\xe2\x82\xac", b"[" * 2000, b'{"a":' * 500,
    b"=", b"'''", b"[[", b"]]", b"..", b"../../etc/passwd", b"<script>alert(1)</script>", b"%s%n", b" " * 300,
)  # fmt: skip


def mutated(seeds: list[bytes], rng: random.Random) -> bytes:
    """A seed with a few things about it changed."""
    data = bytearray(rng.choice(seeds))
    for _ in range(rng.randint(1, 6)):
        start = rng.randint(0, len(data))
        end = min(len(data), start + rng.randint(0, 1 << rng.randint(0, 8)))
        match rng.randint(0, 6):
            case 0 if data:
                data[start % len(data)] ^= 1 << rng.randint(0, 7)
            case 1:
                data[start:end] = b""
            case 2:
                data[start:start] = data[start:end] * rng.randint(1, 8)
            case 3:
                data[start:end] = rng.choice(TOKENS)
            case 4:
                data[start:start] = rng.randbytes(rng.randint(1, 16))
            case 5:
                other = rng.choice(seeds)
                data[start:] = other[rng.randint(0, len(other)) :]
            case _:
                data[start:end] = b"%d" % rng.randint(-(2**70), 2**70)
    return bytes(data[:LONGEST])


def fuzz(name: str, target: Callable[[bytes], None]) -> int:
    """Runs a fuzzer as the command line asks; exit status 1 if something was found."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    asked.add_argument("--seconds", type=float, default=60.0)
    asked.add_argument("--count", type=int, help="so many inputs instead of so many seconds")
    asked.add_argument("--seed", type=int, default=0)
    asked.add_argument("--coverage", action="store_true", help="let atheris mutate")
    given = asked.parse_args()
    files = sorted((CORPUS / name).iterdir())
    if given.coverage:
        return _by_coverage(name, target, int(given.seconds))
    seeds = [file.read_bytes() for file in files]
    rng = random.Random(given.seed)  # noqa: S311 - the same inputs in every run
    begun, done, found = time.monotonic(), 0, 0
    while (done < given.count) if given.count is not None else (time.monotonic() - begun < given.seconds):
        data = seeds[done] if done < len(seeds) else mutated(seeds, rng)
        found += not _bears(name, target, data)
        done += 1
    sys.stdout.write(f"{name}: {done} inputs in {time.monotonic() - begun:.1f} s, {found} not borne\n")
    return 1 if found else 0


def _bears(name: str, target: Callable[[bytes], None], data: bytes) -> bool:
    begun = time.monotonic()
    try:
        target(data)
        why = "" if time.monotonic() - begun < SLOW else f"took {time.monotonic() - begun:.1f} s\n"
    except Exception:  # noqa: BLE001 - whatever a target raises is what is looked for
        why = traceback.format_exc()
    if not why:
        return True
    kept = CORPUS / name / f"found-{hashlib.sha256(data).hexdigest()[:12]}"
    kept.write_bytes(data)
    sys.stdout.write(f"{kept}:\n{why}\n")
    return False


def _by_coverage(name: str, target: Callable[[bytes], None], seconds: int) -> int:
    import atheris  # type: ignore[import-not-found]  # taken where it is, never needed

    # Only our own code: to look into all that is imported takes minutes.
    for one in gc.get_objects():
        if isinstance(one, FunctionType) and (one.__module__ or "").startswith(("capture.", "dashboard.")):
            with suppress(Exception):  # a function that this library cannot rewrite is tried unseen
                atheris.instrument_func(one)
    with tempfile.TemporaryDirectory(prefix="tenths-fuzz-") as reached:
        # What reaches further is kept there, so that the corpus holds only what a person put into it.
        options = [sys.argv[0], reached, str(CORPUS / name), f"-max_total_time={seconds}"]
        options += [f"-artifact_prefix={CORPUS / name}/found-", f"-timeout={SLOW:.0f}", f"-max_len={LONGEST}"]
        atheris.Setup(options, target)
        atheris.Fuzz()
    return 0
