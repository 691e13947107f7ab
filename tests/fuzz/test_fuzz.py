"""Each fuzzer runs on a few hundred inputs from its corpus and one seed.

`TENTHS_FUZZ` sets how many inputs (250 unless told); by hand ``python tests/fuzz/sheet.py`` goes on.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
INPUTS = os.environ.get("TENTHS_FUZZ", "250")
SCRIPTS = {
    **dict.fromkeys(["recording", "sheet", "dialect", "inbox", "gatt", "lesson", "connection"], INPUTS),
    **dict.fromkeys(["taught", "certificate", "picture"], INPUTS),
    # Each of these draws all pages, or judges as many passes as a person says: a tenth of the inputs.
    **dict.fromkeys(["words", "shown"], str(int(INPUTS) // 10)),
}


def fuzz(script: str, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, str(HERE / f"{script}.py"), *words],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.parametrize("script", SCRIPTS)
def test_whatever_comes_is_borne(script: str) -> None:
    done = fuzz(script, "--count", SCRIPTS[script], "--seed", "55")

    assert done.returncode == 0, done.stdout + done.stderr
    assert f"{script}: {SCRIPTS[script]} inputs" in done.stdout


@pytest.mark.parametrize("script", SCRIPTS)
def test_a_corpus_has_inputs_that_are_good(script: str) -> None:
    assert len(list((HERE / "corpus" / script).iterdir())) >= 3
