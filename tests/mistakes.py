"""Mistakes of a line or two, each with the check that must catch it: ``python tests/mistakes.py``.

A law that no planted mistake breaks is decoration. The checks run in a copy of the tree, where
they must be green; then each mistake is made there and its check runs again: one that stays green is
a hole. ``--some N`` takes N of them, drawn with ``--seed``; words take those whose sentence has one
of them; ``--look`` only sees whether each place is still there.

A mistake names no file and no module. Its place is the one place in the shipped code where its
lines stand, to the letter or with other names (`Place`), and its check is the one test of that
name, so that a rename or a move breaks nothing here.
"""

from __future__ import annotations

import argparse
import builtins
import keyword
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parents[1]
PARTS = ("capture", "dashboard", "tests", "recordings", "pyproject.toml", "README.md", "DEVELOPERS.md")
SHIPPED = ("capture", "dashboard")
KEPT = frozenset(keyword.kwlist) | frozenset(dir(builtins)) | {"self"}
"""Names that no rename of ours changes."""
TOKEN = re.compile(r"""(?P<text>"[^"\n]*"|'[^'\n]*')|(?P<name>[A-Za-z_]\w*)|(?P<other>.)""", re.DOTALL)


class Mistake(NamedTuple):
    """Lines gone wrong."""

    what: str
    right: str
    wrong: str
    check: str
    """Name of the test that must fail."""


class Import(NamedTuple):
    """An import that a room may not have; the import contracts must fail."""

    what: str
    room: str
    line: str


class Place(NamedTuple):
    """Where a mistake is made, and the lines there."""

    path: Path
    right: str
    wrong: str


MISTAKES = (
    # Durable before shown; nothing lost.
    Mistake(
        "a word is acknowledged although it is not on disk",
        "            answer(reply if on_disk else self._not_yet(reply))\n",
        "            answer(reply)\n",
        "test_words_that_did_not_reach_the_disk_are_not_acknowledged",
    ),
    Mistake(
        "what was written is not synced",
        "        sync(self._file)\n        for _ in range(count):\n",
        "        for _ in range(count):\n",
        "test_after_a_failed_sync_everything_since_the_last_good_one_is_written_again",
    ),
    Mistake(
        "what a failed write kept is thrown away",
        "            self.trouble = self._why(error)\n",
        "            self.trouble = self._why(error)\n            self._kept.clear()\n",
        "test_a_full_disk_keeps_events_in_memory_and_writes_them_when_it_is_back",
    ),
    Mistake(
        "a follower gives out what is not on disk",
        "            if size == self._read or not self._on_disk(file):\n",
        "            if size == self._read:\n",
        "test_nothing_is_given_out_before_it_is_synced",
    ),
    Mistake(
        "the desk thinks before what was heard is on disk",
        "        if self._clock.stamp() - self._written > self._took and not self.recorder.trouble:\n",
        "        if self.recorder.trouble:\n",
        "test_what_is_heard_is_on_disk_before_the_desk_thinks_about_it",
    ),
    Mistake(
        "what a crash left undecided stays so",
        "            self._decide(self.recorder.last)\n",
        "            pass\n",
        "test_what_a_crash_left_undecided_is_decided_when_the_recording_goes_on",
    ),
    Mistake(
        "a reading whose pass alone came to the disk before a crash is never taken",
        "        if told.event.seq != due or told.event.source != DESK:\n",
        "        if told.event.seq != due or told.event.source:\n",
        "test_a_decision_that_a_crash_cut_short_is_gone_on_with",
    ),
    Mistake(
        "memory has no bound while the disk is full",
        "        if self._came - self._went + self._recorder.kept + weight > self._bound:\n",
        "        if self._came - self._went > self._bound:\n",
        "test_memory_is_bounded_and_what_is_lost_is_counted",
    ),
    Mistake(
        "a number that is missing goes unseen",
        "            if event.seq != due or not mono",
        "            if event.seq < due or not mono",
        "test_what_stands_before_a_damage_is_read_and_the_damage_named",
    ),
    Mistake(
        "the chain does not hang on what stood before",
        "    fresh.update(chain.encode() + body)\n",
        "    fresh.update(body)\n",
        "test_a_chain_is_sha_256_over_all_that_stands_before",
    ),
    Mistake(
        "an edited line is mended away",
        '    if damage.kind not in {"cut", "hole"} or',
        '    if damage.kind not in {"cut", "hole", "line"} or',
        "test_nothing_else_is_mended",
    ),
    Mistake(
        "the recording is cut before the side file holds the tail",
        "        while piece := os.read(file, PIECE):\n            write_all(beside, piece)\n",
        "        pass\n",
        "test_what_a_crash_leaves_is_moved_beside",
    ),
    Mistake(
        "not-a-number enters",
        "        if number is not None and not isfinite(number):\n",
        "        if number is None and not isfinite(0.0):\n",
        "test_a_number_that_json_does_not_have_never_enters",
    ),
    Mistake(
        "what comes late is dated before what is written",
        "        return at if last is None or last.mono <= at.mono else",
        "        return at if last is None or at.mono else",
        "test_whatever_order_stamps_come_in_time_never_goes_back",
    ),
    # Live and replay give the same; nothing told is forgotten.
    Mistake(
        "a replay decides where it was decided, and not where it was not",
        "    return state if has_decisions(state) else end_afresh(job, events)\n",
        "    return end_afresh(job, events) if has_decisions(state) else state\n",
        "test_a_recording_without_any_decision_gets_them_now",
    ),
    Mistake(
        "stepping over a recorded decision forgets that it was taken",
        "return replace(after, candidate=None, infeed=fed)",
        "return replace(after, candidate=None)",
        "test_an_infeed_gauge_tells_the_passes_that_nobody_said",
    ),
    Mistake(
        "undo takes the oldest word",
        "    for noted in reversed(state.history):\n        event = noted.event\n",
        "    for noted in state.history:\n        event = noted.event\n",
        "test_undo_sets_the_newest_reading_aside_and_its_place_is_measured_again",
    ),
    Mistake(
        "a rejected reading leaves the station reading that rests on it",
        "    return isinstance(event.fact, Taken) and any(seq in aside for seq in event.fact.of)\n",
        "    return isinstance(event.fact, Taken) and not event.fact.of\n",
        "test_a_rejected_reading_takes_the_station_reading_that_rests_on_it_along",
    ),
    Mistake(
        "a rejection cannot be undone",
        "    for event in reversed(rejections):\n        if event.seq not in aside and",
        "    for event in reversed(rejections):\n        if",
        "test_a_rejection_can_be_undone",
    ),
    Mistake(
        "a decision that was taken back comes again when it is decided afresh",
        "fact=replace(fact, of=followed))\n",
        "fact=fact)\n",
        "test_a_decision_that_a_person_took_back_is_so_afresh_too",
    ),
    Mistake(
        "what a person undid stays in the row of passes",
        "stations=stations.start(state.job), grind=Grind(),",
        "stations=stations.start(state.job),",
        "test_what_is_undone_leaves_nothing_behind",
    ),
    # Units and signs.
    Mistake(
        "another unit than the sheet's is converted in silence",
        "decimals, raw, shown)",
        "decimals, raw)",
        "test_an_instrument_switched_to_the_other_unit_is_believed_and_says_so",
    ),
    Mistake(
        "an inch has 25.04 mm",
        "MM_PER_INCH = 25.4\n",
        "MM_PER_INCH = 25.04\n",
        "test_an_inch_is_25_4_mm_exactly",
    ),
    Mistake(
        "the advice for the table stays in millimetres on an inch screen",
        "partial(taper_of, units=units)",
        'partial(taper_of, units="mm")',
        "test_the_indicator_is_told_in_inches_on_an_inch_screen",
    ),
    Mistake(
        "the indicator at the table is said in tenths, where it shows inches",
        '        shown=Length(adjust, "indicator"),\n',
        "        shown=small(adjust, signed=True),\n",
        "test_a_movement_of_the_table_is_said_as_the_indicator_shows_it",
    ),
    Mistake(
        "an infeed told on radius is taken for one on diameter",
        "        fed *= 2\n",
        "        fed *= 1\n",
        "test_a_dial_on_radius_is_doubled",
    ),
    Mistake(
        "an infeed gauge on radius is taken for one on diameter",
        '    return 2.0 if job.grinder is not None and job.grinder.dial == "radius" else 1.0\n',
        "    return 1.0\n",
        "test_a_dial_on_radius_feeds_twice_on_diameter",
    ),
    Mistake(
        "a gauge that falls as the part grows is read the wrong way round",
        '    return -value if gauge is not None and gauge.sign == "-" else value\n',
        "    return value\n",
        "test_a_gauge_whose_reading_falls_as_the_part_grows_is_turned_round",
    ),
    Mistake(
        "a warm part is called larger when cold",
        "    size = reading * warm_gauge / warm_part\n",
        "    size = reading * warm_part / warm_gauge\n",
        "test_a_size_comes_back_from_any_temperature",
    ),
    # The arithmetic of the job.
    Mistake(
        "the table is turned by the whole taper, not by half",
        "    theta = found.slope / 2.0\n",
        "    theta = found.slope\n",
        "test_two_stations_give_the_turn_and_the_movement",
    ),
    Mistake(
        "the table is turned the wrong way",
        "    adjust = share * toward * swivel.sign + 0.0\n",
        "    adjust = -share * toward * swivel.sign + 0.0\n",
        "test_the_indicator_has_its_own_sign_and_its_own_side",
    ),
    Mistake(
        "the guard makes the band wider",
        "    most = None if limits.most is None else limits.most - guard\n",
        "    most = None if limits.most is None else limits.most + guard\n",
        "test_the_band_that_is_left_for_this_job",
    ),
    Mistake(
        "the model is fitted to warm sizes",
        "        value=cold.value - reference,\n",
        "        value=reading.value - reference,\n",
        "test_a_size_read_warm_is_judged_as_it_is_at_20_degrees",
    ),
    Mistake(
        "the best place judges the fit",
        "    place = min(judged, key=",
        "    place = max(judged, key=",
        "test_a_fit_outside_or_near_a_limit_does_not_conform",
    ),
    Mistake(
        "a fit is proven without a temperature",
        '        "answer": "not proven" if blocks else worse.answer,\n',
        '        "answer": worse.answer,\n',
        "test_without_a_temperature_nothing_is_proven_and_it_is_said",
    ),
    Mistake(
        "readings of metal that is gone count",
        " if reading.pass_ == newest]\n",
        " if reading.pass_ <= newest]\n",
        "test_after_a_pass_earlier_readings_of_the_shaft_are_of_metal_that_is_gone",
    ),
    Mistake(
        "the whole runout is taken off the thinnest side",
        "    least = thickness - runout / 2.0\n",
        "    least = thickness - runout\n",
        "test_half_the_runout_comes_off_the_thinnest_side",
    ),
    Mistake(
        "stock is ordered for one side",
        "        plated=finished + 2.0 * stock,\n",
        "        plated=finished + stock,\n",
        "test_an_order_is_strip_plate_and_deposit",
    ),
    # Who may ask.
    Mistake(
        "any token opens the inbox",
        "        if not hmac.compare_digest(request.token",
        "        if not request.token and not hmac.compare_digest(request.token",
        "test_whatever_else_comes_is_refused_and_the_next_word_is_heard",
    ),
    Mistake(
        "another user can read the token",
        "    file = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL | OPEN, 0o600)\n",
        "    file = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL | OPEN, 0o644)\n",
        "test_only_the_user_can_read_the_token_and_it_is_gone_afterwards",
    ),
    Mistake(
        "the inbox listens to the whole network",
        'HOST: Final = "127.0.0.1"\n',
        'HOST: Final = "0.0.0.0"\n',
        "test_only_this_machine_reaches_it",
    ),
    Mistake(
        "a page from elsewhere may ask",
        "        return from_us and self._is_name",
        "        return self._is_name",
        "test_a_page_from_elsewhere_is_refused",
    ),
)

IMPORTS = (
    Import("the session's state waits", "capture/state", "import asyncio"),
    Import("the arithmetic asks for the time", "capture/metrology", "import time"),
    Import("the capture knows the screen", "capture/ingest", "import dashboard.text.screen"),
)


@cache
def shipped(root: Path) -> dict[Path, str]:
    """The text of every shipped module."""
    return {path: path.read_text("utf-8") for part in SHIPPED for path in sorted((root / part).rglob("*.py"))}


def places(one: Mistake, root: Path) -> list[Place]:
    """The places of *one*: its lines to the letter; where there are none, lines alike but for names."""
    exact = [
        Place(path.relative_to(root), one.right, one.wrong)
        for path, text in shipped(root).items()
        for _ in range(text.count(one.right))
    ]
    return exact or [
        Place(path.relative_to(root), found.group(0), renamed(one, found))
        for path, text in shipped(root).items()
        for found in shape(one.right).finditer(text)
    ]


def tokens(text: str) -> Iterator[tuple[str, bool]]:
    """The pieces of a line, and of each whether it is a name that a rename can change."""
    for found in TOKEN.finditer(text):
        name = found.group("name")
        yield found.group(0), name is not None and name not in KEPT


@cache
def shape(right: str) -> re.Pattern[str]:
    """What matches the lines with any other names, each the same wherever it stands."""
    seen: set[str] = set()
    pieces = []
    for piece, free in tokens(right):
        if not free:
            pieces.append(re.escape(piece))
        elif piece in seen:
            pieces.append(f"(?P=n_{piece})")
        else:
            seen.add(piece)
            pieces.append(f"(?P<n_{piece}>[A-Za-z_]\\w*)")
    return re.compile("".join(pieces))


def renamed(one: Mistake, found: re.Match[str]) -> str:
    """The wrong lines with the names of the place that was found."""
    names = found.groupdict()
    return "".join(names.get(f"n_{piece}", piece) if free else piece for piece, free in tokens(one.wrong))


def test_of(name: str, root: Path) -> list[str]:
    """Where the test of that name stands, as pytest takes it."""
    head = re.compile(rf"^(?:async )?def {name}\w*\(", re.MULTILINE)
    return [
        f"{path.relative_to(root)}::{found.group(0).split('def ')[1].rstrip('(')}"
        for path in test_files(root)
        for found in head.finditer(path.read_text("utf-8"))
    ]


@cache
def test_files(root: Path) -> list[Path]:
    """Every file of tests, those behind links too."""
    return sorted(
        Path(folder, name)
        for folder, _, names in os.walk(root / "tests", followlinks=True)
        for name in names
        if name.startswith("test_") and name.endswith(".py")
    )


def missing(root: Path = ROOT) -> list[str]:
    """Mistakes that cannot be made any more, because their lines or their test are gone or not alone."""
    said = []
    for one in MISTAKES:
        where = places(one, root)
        if len(where) != 1:
            files = ", ".join(str(place.path) for place in where)
            said.append(f"{one.what}: its lines stand {len(where)} times, once was due {files}".rstrip())
        tests = test_of(one.check, root)
        if len(tests) != 1:
            said.append(f"{one.what}: {len(tests)} tests are named {one.check}, one was due")
    said += [f"{one.what}: no room {one.room}" for one in IMPORTS if not (root / one.room).is_dir()]
    return said


def copy_to(folder: Path) -> None:
    """The tree as it stands, without what others may be writing."""
    for part in PARTS:
        source = ROOT / part
        if source.is_dir():
            shutil.copytree(source, folder / part, ignore=shutil.ignore_patterns("__pycache__", ".*"))
        elif source.exists():
            shutil.copy(source, folder / part)


def caught(one: Mistake | Import, folder: Path) -> bool:
    """Whether the check of *one* fails in *folder*, where the mistake stands while it runs."""
    if isinstance(one, Import):
        path = min((folder / one.room).glob("[a-z]*.py"))
        right = path.read_text("utf-8")
        wrong = right.replace(
            "from __future__ import annotations\n", f"from __future__ import annotations\n\n{one.line}\n", 1
        )
        words = None
    else:
        (place,) = places(one, folder)
        path = folder / place.path
        right = path.read_text("utf-8")
        wrong = right.replace(place.right, place.wrong)
        words = test_of(one.check, folder)
    path.write_text(wrong, "utf-8")
    try:
        return run(words, folder).returncode == 1
    finally:
        path.write_text(right, "utf-8")


def green(chosen: Sequence[Mistake | Import], folder: Path) -> bool:
    """Whether every check passes where no mistake was made; says what does not."""
    tests = [test for one in chosen if isinstance(one, Mistake) for test in test_of(one.check, folder)]
    runs = [tests] * bool(tests) + [None] * any(isinstance(one, Import) for one in chosen)
    sound = True
    for words in runs:
        done = run(words, folder)
        if done.returncode:
            sound = False
            say(f"not green without a mistake:\n{done.stdout[-2000:]}")
    return sound


def run(tests: list[str] | None, folder: Path) -> subprocess.CompletedProcess[str]:
    """Runs tests in *folder*, or the import contracts; status 1 is a finding, another no answer."""
    contracts = [str(Path(sys.executable).parent / "lint-imports"), "--no-cache"]
    pytest = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider"]
    return subprocess.run(
        contracts if tests is None else [*pytest, *tests],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(folder), "PYTHONDONTWRITEBYTECODE": "1"},
        capture_output=True,
        text=True,
        check=False,
        timeout=600,
    )


def main() -> int:
    """Make each mistake in turn; exit status 1 if one stays unseen."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    asked.add_argument("words", nargs="*")
    asked.add_argument("--some", type=int)
    asked.add_argument("--seed", type=int, default=0)
    asked.add_argument("--look", action="store_true")
    given = asked.parse_args()
    gone = missing()
    for line in gone:
        say(line)
    if given.look or gone:
        return 1 if gone else 0
    chosen: list[Mistake | Import] = [
        one
        for one in (*MISTAKES, *IMPORTS)
        if not given.words or any(word in one.what for word in given.words)
    ]
    if given.some is not None:
        chosen = random.Random(given.seed).sample(chosen, min(given.some, len(chosen)))  # noqa: S311 - a sample
    unseen = 0
    with tempfile.TemporaryDirectory(prefix="tenths-mistakes-") as name:
        copy_to(Path(name))
        if not green(chosen, Path(name)):
            return 1
        for one in chosen:
            seen = caught(one, Path(name))
            unseen += not seen
            say(f"{'caught' if seen else 'NOT CAUGHT'}  {one.what}")
    say(f"{len(chosen) - unseen} of {len(chosen)} caught")
    return 1 if unseen else 0


def say(line: str) -> None:
    """One line, at once."""
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    sys.exit(main())
