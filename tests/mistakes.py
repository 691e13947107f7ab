"""Mistakes of one line, each with the check that must catch it: ``python tests/mistakes.py``.

A law that no planted mistake breaks is decoration. All checks are run in a copy of the tree, where
they must be green; then each mistake is made there and its check run again: one that stays green is
a hole. ``--some N`` takes N of them, drawn with
``--seed``; words take those whose file or sentence has one of them; ``--look`` only sees whether
each place is still there.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parents[1]
PARTS = ("capture", "dashboard", "tests", "recordings", "pyproject.toml", "README.md", "DEVELOPERS.md")
TYPES = "mypy"
IMPORTS = "lint-imports"


class Mistake(NamedTuple):
    """One line gone wrong."""

    what: str
    file: str
    right: str
    wrong: str
    check: str
    """A test, `TYPES` or `IMPORTS`."""


CLERK, DAEMON = "tests/capture/test_clerk.py::", "tests/capture/test_daemon.py::"
JOURNAL, LINES = "tests/capture/test_journal.py::", "tests/capture/test_lines.py::"
MEND, RECORDER = "tests/capture/test_mend.py::", "tests/capture/test_recorder.py::"
DESK, MARKS = "tests/capture/folds/test_desk.py::", "tests/capture/folds/test_marks.py::"
INBOX, LAWS = "tests/capture/links/test_inbox.py::", "tests/capture/dialects/test_laws.py::"
FIT, SWEEP = "tests/capture/folds/test_fit.py::", "tests/capture/folds/test_sweep.py::"
RETOLD = "tests/capture/folds/test_retold.py::"
DECIMAL = "tests/capture/dialects/test_decimal.py::"
METROLOGY = "tests/capture/metrology/test_"
GUARD, ROADS = "tests/dashboard/test_guard.py::", "tests/dashboard/test_gauge_roads.py::"

MISTAKES = (
    # Durable before shown; nothing lost.
    Mistake(
        "a word is acknowledged although it is not on disk",
        "capture/ingest/sequencer.py",
        "            answer(reply if on_disk else self._not_yet(reply))\n",
        "            answer(reply)\n",
        CLERK + "test_words_that_did_not_reach_the_disk_are_not_acknowledged",
    ),
    Mistake(
        "what was written is not synced",
        "capture/recording/writer.py",
        "        sync(self._file)\n        for _ in range(count):\n",
        "        for _ in range(count):\n",
        RECORDER + "test_after_a_failed_sync_everything_since_the_last_good_one_is_written_again",
    ),
    Mistake(
        "what a failed write kept is thrown away",
        "capture/recording/writer.py",
        "            self.trouble = self._why(error)\n",
        "            self.trouble = self._why(error)\n            self._kept.clear()\n",
        RECORDER + "test_a_full_disk_keeps_events_in_memory_and_writes_them_when_it_is_back",
    ),
    Mistake(
        "a follower gives out what is not on disk",
        "capture/recording/reader.py",
        "            if size == self._read or not _synced(file):\n",
        "            if size == self._read:\n",
        JOURNAL + "test_nothing_is_given_out_before_it_is_synced",
    ),
    Mistake(
        "what the desk's failure interrupts is not written",
        "capture/ingest/sequencer.py",
        "        finally:\n            # Whatever the desk does",
        "        except Refused:\n            raise\n        else:\n            # Whatever the desk does",
        CLERK + "test_what_was_heard_is_kept_although_the_desk_fails",
    ),
    Mistake(
        "the desk thinks before what was heard is on disk",
        "capture/ingest/sequencer.py",
        "        if self._clock.stamp() - self._written > self._took and not self.recorder.trouble:\n",
        "        if self.recorder.trouble:\n",
        CLERK + "test_what_is_heard_is_on_disk_before_the_desk_thinks_about_it",
    ),
    Mistake(
        "the disk is asked for every event, however thick they come",
        "capture/ingest/sequencer.py",
        "        if self._clock.stamp() - self._written > self._took and not self.recorder.trouble:\n",
        "        if not self.recorder.trouble:\n",
        CLERK + "test_what_comes_faster_than_the_disk_answers_is_written_together",
    ),
    Mistake(
        "what a crash left undecided stays so",
        "capture/ingest/sequencer.py",
        "            self._decide(self.recorder.last)\n",
        "            pass\n",
        CLERK + "test_what_a_crash_left_undecided_is_decided_when_the_recording_goes_on",
    ),
    Mistake(
        "a reading whose pass alone came to the disk before a crash is never taken",
        "capture/state/session.py",
        "        if told.event.seq != due or told.event.source != DESK:\n",
        "        if told.event.seq != due or told.event.source:\n",
        DESK + "test_a_decision_that_a_crash_cut_short_is_gone_on_with",
    ),
    Mistake(
        "a line whose head was cut off as the port opened is read",
        "capture/ingest/gauge_reader.py",
        "        if isinstance(link, Midway) and link.midway:\n",
        "        if isinstance(link, Midway) and not link.midway:\n",
        DAEMON + "test_a_gauge_in_the_middle_of_a_line_is_not_misread",
    ),
    Mistake(
        "memory has no bound while the disk is full",
        "capture/ingest/writer_thread.py",
        "        if self._came - self._went + self._recorder.kept + weight > self._bound:\n",
        "        if self._came - self._went > self._bound:\n",
        DAEMON + "test_memory_is_bounded_and_what_is_lost_is_counted",
    ),
    # The recording tells of every harm.
    Mistake(
        "a number that is missing goes unseen",
        "capture/recording/reader.py",
        "            if event.seq != due or not mono",
        "            if event.seq < due or not mono",
        JOURNAL + "test_what_stands_before_a_damage_is_read_and_the_damage_named",
    ),
    Mistake(
        "the chain does not hang on what stood before",
        "capture/recording/codec.py",
        "    fresh.update(chain.encode() + body)\n",
        "    fresh.update(body)\n",
        LINES + "test_a_chain_is_sha_256_over_all_that_stands_before",
    ),
    Mistake(
        "an edited line is mended away",
        "capture/recording/repair.py",
        '    if damage.kind not in {"cut", "hole"} or',
        '    if damage.kind not in {"cut", "hole", "line"} or',
        MEND + "test_nothing_else_is_mended",
    ),
    Mistake(
        "the recording is cut before the side file holds the tail",
        "capture/recording/repair.py",
        "        while piece := os.read(file, PIECE):\n            write_all(beside, piece)\n",
        "        pass\n",
        MEND + "test_what_a_crash_leaves_is_moved_beside",
    ),
    Mistake(
        "a kind of a newer program is refused",
        "capture/recording/codec.py",
        "    if not isinstance(kind, str) or kind in _KINDS:\n",
        "    if True:\n",
        LINES + "test_a_kind_of_a_newer_program_is_kept_as_it_is",
    ),
    Mistake(
        "not-a-number enters",
        "capture/events.py",
        "        if number is not None and not isfinite(number):\n",
        "        if number is None and not isfinite(0.0):\n",
        "tests/capture/test_events.py",
    ),
    # Time.
    Mistake(
        "what comes late is dated before what is written",
        "capture/ingest/sequencer.py",
        "        return at if last is None or last.mono <= at.mono else",
        "        return at if last is None or at.mono else",
        CLERK + "test_whatever_order_stamps_come_in_time_never_goes_back",
    ),
    Mistake(
        "the recording's time may go back when it goes on",
        "capture/host/clock.py",
        "after.mono + max(0, began - after.wall)",
        "after.mono + (began - after.wall)",
        "tests/capture/test_clock.py::test_a_clock_that_goes_on_never_goes_back",
    ),
    # Links and dialects.
    Mistake(
        "one lost link silences the others",
        "capture/ingest/gauge_reader.py",
        "        except OSError as error:\n            why = error.strerror or str(error) or type",
        "        except ChildProcessError as error:\n            why = error.strerror or str(error) or type",
        DAEMON + "test_one_lost_link_silences_no_other",
    ),
    Mistake(
        "an unfinished piece is forgotten",
        "capture/dialects/dialect.py",
        "        rest = self.pending + data\n",
        "        rest = data\n",
        LAWS + "test_however_bytes_are_chunked_the_same_is_heard",
    ),
    Mistake(
        "a line without an end grows for ever",
        "capture/dialects/dialect.py",
        "                if len(rest) - start < longest:\n                    break\n                end",
        "                if not size:\n                    break\n                end",
        DECIMAL + "test_a_line_without_an_end_is_bounded",
    ),
    Mistake(
        "another unit than the sheet's is converted in silence",
        "capture/dialects/decimal.py",
        "decimals, raw, shown)",
        "decimals, raw)",
        DECIMAL + "test_an_instrument_switched_to_the_other_unit_is_believed_and_says_so",
    ),
    Mistake(
        "an inch has 25.04 mm",
        "capture/metrology/units.py",
        "MM_PER_INCH = 25.4\n",
        "MM_PER_INCH = 25.04\n",
        METROLOGY + "units.py::test_an_inch_is_25_4_mm_exactly",
    ),
    Mistake(
        "the advice for the table stays in millimetres on an inch screen",
        "dashboard/views/grinder/slope.py",
        "partial(taper_of, units=units)",
        'partial(taper_of, units="mm")',
        "tests/dashboard/views/test_slope.py::test_the_indicator_is_told_in_inches_on_an_inch_screen",
    ),
    Mistake(
        "the indicator at the table is said in tenths, where it shows inches",
        "capture/metrology/form/taper.py",
        '        shown=Length(adjust, "indicator"),\n',
        "        shown=small(adjust, signed=True),\n",
        "tests/capture/folds/test_sentences.py::"
        "test_a_movement_of_the_table_is_said_as_the_indicator_shows_it",
    ),
    Mistake(
        "a sweep in a setting ring is no reading on a master",
        "capture/analysis/gauge_findings.py",
        "                spells[-1][1][:] = [value + gauge.zero]\n",
        "                spells.pop()\n",
        "tests/capture/folds/test_study.py::test_sweeps_in_two_setting_rings_are_readings_on_masters",
    ),
    # Infeed, always on diameter.
    Mistake(
        "an infeed told on radius is taken for one on diameter",
        "capture/state/commands.py",
        "        fed *= 2\n",
        "        fed *= 1\n",
        MARKS + "test_a_dial_on_radius_is_doubled",
    ),
    Mistake(
        "an infeed gauge on radius is taken for one on diameter",
        "capture/state/grinding/infeed_gauge.py",
        "    factor = 2.0 if",
        "    factor = 1.0 if",
        DESK + "test_a_dial_on_radius_feeds_twice_on_diameter",
    ),
    # The desk.
    Mistake(
        "a replay decides where it was decided, and not where it was not",
        "capture/state/replay.py",
        "    return state if has_decisions(state) else end_afresh(job, events)\n",
        "    return end_afresh(job, events) if has_decisions(state) else state\n",
        RETOLD + "test_a_recording_without_any_decision_gets_them_now",
    ),
    Mistake(
        "stepping over a recorded decision forgets that it was taken",
        "capture/state/session.py",
        "        return replace(after, candidate=None, infeed=infeed.rested(after.infeed))\n",
        "        return replace(after, candidate=None)\n",
        DESK + "test_an_infeed_gauge_tells_the_passes_that_nobody_said",
    ),
    Mistake(
        "dips that do not agree are not counted among the ways that some could agree by chance",
        "capture/state/sweep/rock_evidence.py",
        "    found -= log10(comb(max(seat.dips, len(seat.points)), len(kept)))\n",
        "    found -= log10(comb(len(kept), len(kept)))\n",
        "tests/capture/folds/test_believed.py::test_dips_that_do_not_agree_make_those_that_do_more_likely_chance",
    ),
    Mistake(
        "what a hand may stand off the middle is left out of the uncertainty",
        "capture/state/sweep/auto_accept.py",
        "    u = hypot(found.u, offset_uncertainty(size, min(limits.aside, size / 2)))\n",
        "    u = found.u\n",
        "tests/capture/folds/test_hands_free.py::test_what_a_hand_may_stand_off_the_middle_is_in_the_uncertainty",
    ),
    Mistake(
        "a bent part's slope is known as well as its readings",
        "capture/metrology/form/taper.py",
        "    one = sd if u is None else max(u, sd or 0.0)\n",
        "    one = sd if u is None else u\n",
        METROLOGY + "taper.py::test_what_bends_the_line_is_in_its_uncertainty",
    ),
    Mistake(
        "a part that is nearly cold is taken to cool as quickly as a warm one",
        "capture/coach/advice.py",
        "        slowest=_slowest(ground, job.settings.warm.limit),\n",
        "        slowest=_still_air(ground),\n",
        "tests/capture/folds/test_advice.py::test_a_part_in_still_air_is_not_called_settled_on_the_way",
    ),
    Mistake(
        "a part in still air is taken to cool as under a fan",
        "capture/metrology/heat/soak.py",
        "_POWERS = (0.0, 0.12, 0.25)\n",
        "_POWERS = (0.0, 0.0, 0.0)\n",
        "tests/accuracy/test_soak.py::test_the_end_of_a_soak_lies_in_its_interval_as_often_as_it_says",
    ),
    Mistake(
        "undo takes the oldest word",
        "capture/state/session.py",
        "    for told in reversed(state.history):\n",
        "    for told in state.history:\n",
        DESK + "test_undo_sets_the_newest_reading_aside_and_its_place_is_measured_again",
    ),
    Mistake(
        "a rejected reading leaves the station reading that rests on it",
        "capture/state/session.py",
        "    return isinstance(event.fact, Taken) and any(seq in aside for seq in event.fact.of)\n",
        "    return isinstance(event.fact, Taken) and not event.fact.of\n",
        DESK + "test_a_rejected_reading_takes_the_station_reading_that_rests_on_it_along",
    ),
    Mistake(
        "a rejection cannot be undone",
        "capture/state/session.py",
        "    for event in reversed(rejections):\n        if event.seq not in aside and",
        "    for event in reversed(rejections):\n        if",
        DESK + "test_a_rejection_can_be_undone",
    ),
    Mistake(
        "a unit that is not the sheet's is passed over",
        "capture/state/flags.py",
        "    if unit != gauge.unit:\n",
        "    if unit == gauge.unit:\n",
        DESK + "test_a_gauge_in_another_unit_than_the_sheets_is_said_once",
    ),
    Mistake(
        "a gauge is looked at only when it speaks, so its silence is never said",
        "capture/state/session.py",
        "        heard = None if isinstance(fact, Beat) else state.heard\n",
        "        heard = source if isinstance(fact, Taken) else state.heard\n",
        DESK + "test_a_gauge_that_falls_silent_is_said_although_another_speaks",
    ),
    Mistake(
        "a gauge that falls as the part grows is read the wrong way round",
        "capture/state/stations.py",
        '    return -value if gauge is not None and gauge.sign == "-" else value\n',
        "    return value\n",
        DESK + "test_a_gauge_whose_reading_falls_as_the_part_grows_is_turned_round",
    ),
    Mistake(
        "an old temperature speaks for ever",
        "capture/state/session.py",
        "    oldest = at.mono - int(",
        "    oldest = -int(",
        "tests/capture/folds/test_summary.py::test_a_temperature_that_is_too_old_speaks_no_more",
    ),
    # Metrology.
    Mistake(
        "a warm part is called larger when cold",
        "capture/metrology/heat/temperature.py",
        "    size = reading * warm_gauge / warm_part\n",
        "    size = reading * warm_part / warm_gauge\n",
        METROLOGY + "temperature.py::test_a_size_comes_back_from_any_temperature",
    ),
    Mistake(
        "the table is turned by the whole taper, not by half",
        "capture/metrology/form/taper.py",
        "    theta = found.slope / 2.0\n",
        "    theta = found.slope\n",
        METROLOGY + "taper.py::test_two_stations_give_the_turn_and_the_movement",
    ),
    Mistake(
        "the table is turned the wrong way",
        "capture/metrology/form/taper.py",
        "    adjust = share * toward * swivel.sign + 0.0\n",
        "    adjust = -share * toward * swivel.sign + 0.0\n",
        METROLOGY + "taper.py::test_the_indicator_has_its_own_sign_and_its_own_side",
    ),
    Mistake(
        "the guard makes the band wider",
        "capture/metrology/fit/decision.py",
        "    most = None if limits.most is None else limits.most - guard\n",
        "    most = None if limits.most is None else limits.most + guard\n",
        METROLOGY + "decision.py::test_the_band_that_is_left_for_this_job",
    ),
    Mistake(
        "a pass takes what it should leave",
        "capture/metrology/grinding/spring.py",
        "        taken = share * touching",
        "        taken = (1.0 - share) * touching",
        METROLOGY + "grinding.py::test_two_removals_without_infeed_give_the_share",
    ),
    Mistake(
        "the model is fitted to warm sizes",
        "capture/state/grinding/passes.py",
        "        value=cold.value - reference,\n",
        "        value=reading.value - reference,\n",
        DESK + "test_a_size_read_warm_is_judged_as_it_is_at_20_degrees",
    ),
    Mistake(
        "two minutes without coolant prove that a part is cold",
        "capture/coach/advice.py",
        "    gap = TELLS * _still_air(ground) if ground.coolant is False else GAP\n",
        "    gap = GAP\n",
        "tests/capture/folds/test_advice.py::test_two_minutes_show_nothing_of_a_dry_part_and_hours_do",
    ),
    Mistake(
        "an indicator on the table is believed while it still moves",
        "capture/state/grinding/table_indicator.py",
        "        rests=stays and at.mono - state.since >= REST,\n",
        "        rests=True,\n",
        "tests/capture/folds/test_turning.py::test_a_movement_is_written_down_once_its_indicator_rests",
    ),
    # Who may speak and look.
    Mistake(
        "any token opens the inbox",
        "capture/links/inbox.py",
        "        if not hmac.compare_digest(request.token",
        "        if not request.token and not hmac.compare_digest(request.token",
        INBOX + "test_whatever_else_comes_is_refused_and_the_next_word_is_heard",
    ),
    Mistake(
        "another user can read the token",
        "capture/links/inbox.py",
        "    file = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL | OPEN, 0o600)\n",
        "    file = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL | OPEN, 0o644)\n",
        INBOX + "test_only_the_user_can_read_the_token_and_it_is_gone_afterwards",
    ),
    Mistake(
        "the inbox listens to the whole network",
        "capture/links/inbox.py",
        '_HOST: Final = "127.0.0.1"\n',
        '_HOST: Final = "0.0.0.0"\n',
        INBOX + "test_only_this_machine_reaches_it",
    ),
    Mistake(
        "a page from elsewhere may ask",
        "dashboard/web/guard.py",
        "        return from_us and self._is_name",
        "        return self._is_name",
        GUARD + "test_a_page_from_elsewhere_is_refused",
    ),
    Mistake(
        "any token opens the dashboard",
        "dashboard/web/guard.py",
        " if one is not None and _same(given, one)]\n",
        " if one is not None]\n",
        GUARD + "test_a_wrong_cookie_is_refused",
    ),
    # What the screen draws and saves.
    Mistake(
        "a wall of the section departs by all that the diameter does",
        "dashboard/views/bore/section.py",
        "(fine(value - self.middle, self.units) or 0.0) / 2, 3)",
        "(fine(value - self.middle, self.units) or 0.0), 3)",
        "tests/dashboard/views/test_bore_section.py::test_the_exaggeration_that_is_said_is_the_one_that_is_drawn",
    ),
    Mistake(
        "a question's Return is lost in the form",
        "dashboard/setup/sheet_form.py",
        'return str(value).encode("unicode_escape").decode()',
        "return str(value).strip()",
        "tests/dashboard/test_sheet_form.py::"
        "test_control_characters_are_spelled_out_and_come_back_as_they_were",
    ),
    Mistake(
        "pedals that the form does not show are taken off the sheet",
        "dashboard/setup/sheet_form.py",
        "        if places is not None:\n",
        "        if True:\n            places = places or []\n",
        "tests/dashboard/test_sheet_form.py::"
        "test_pedals_are_added_and_taken_out_and_stay_where_the_form_has_none",
    ),
    Mistake(
        "decisions afresh go on when a person stopped them",
        "dashboard/sources/redecide.py",
        "if self._stop.is_set():",
        "if self._over.is_set():",
        "tests/dashboard/test_afresh.py::test_it_is_stopped_at_once_and_begins_again_only_when_told",
    ),
    # Imports.
    Mistake(
        "a fold waits",
        "capture/state/health.py",
        "from msgspec import Struct\n",
        "import asyncio\n\nfrom msgspec import Struct\n",
        IMPORTS,
    ),
    Mistake(
        "a fold reads the recording",
        "capture/state/health.py",
        "from capture.events import Battery,",
        "from capture.recording.reader import read\nfrom capture.events import Battery,",
        IMPORTS,
    ),
    Mistake(
        "the capture knows the screen",
        "capture/ingest/daemon.py",
        "from capture.host.clock import Clock\n",
        "from capture.host.clock import Clock\nfrom dashboard.text.screen import word\n",
        IMPORTS,
    ),
    # Teaching.
    Mistake(
        "a gauge is learnt from what came while it was moved",
        "capture/teaching/lesson.py",
        "STILL = 1.5\n",
        "STILL = 15.0\n",
        "tests/capture/test_guide.py::test_a_stream_is_learnt_from_where_it_stood_still_not_from_the_way_there",
    ),
    Mistake(
        "odd parity is taken for even",
        "capture/teaching/line_settings.py",
        '{"E": ones.count(0) / len(ones), "O": ones.count(1) / len(ones)}',
        '{"E": ones.count(1) / len(ones), "O": ones.count(0) / len(ones)}',
        "tests/capture/test_serialline.py::test_seven_bits_are_known_from_what_eight_make_of_them",
    ),
    Mistake(
        "a gauge is kept that nobody has compared with its display",
        "dashboard/setup/gauge_api.py",
        ' or not step.get("file") or not step["agreed"]:\n',
        ' or not step.get("file"):\n',
        ROADS + "test_a_gauge_is_taught_compared_kept_and_nothing_is_written_over",
    ),
    Mistake(
        "anybody's recording names ports to open",
        "dashboard/setup/gauge_api.py",
        "        if state is None or not isinstance(self._source, Feed):\n",
        "        if state is None:\n",
        ROADS + "test_of_a_recording_that_is_played_the_sheet_opens_nothing",
    ),
    # Told once more, and sent once more.
    Mistake(
        "a decision that was taken back comes again when it is decided afresh",
        "capture/state/replay.py",
        "of=self._followed[event.fact.of]))\n",
        "of=event.fact.of))\n",
        RETOLD + "test_a_decision_that_a_person_took_back_is_so_afresh_too",
    ),
    Mistake(
        "another line of the same value is taken for the same line",
        "capture/state/health.py",
        "    return event.fact.raw == state.last.raw\n",
        "    return event.fact.value == state.last.value\n",
        DESK + "test_only_the_same_bytes_sooner_than_a_hand_can_move_are_the_same_reading",
    ),
    Mistake(
        "what a person undid stays in the row of passes",
        "capture/state/session.py",
        "        stations=stations.start(state.job),\n        grind=Grind(),\n",
        "        stations=stations.start(state.job),\n",
        DESK + "test_what_is_undone_leaves_nothing_behind",
    ),
    # The fit.
    Mistake(
        "the best place judges the fit",
        "capture/analysis/fit/findings.py",
        "    place = min(judged, key=",
        "    place = max(judged, key=",
        FIT + "test_a_fit_outside_or_near_a_limit_does_not_conform",
    ),
    Mistake(
        "a fit is proven without a temperature",
        "capture/analysis/fit/findings.py",
        '        "answer": "not proven" if blocks else worse.answer,\n',
        '        "answer": worse.answer,\n',
        FIT + "test_without_a_temperature_nothing_is_proven_and_it_is_said",
    ),
    Mistake(
        "readings of metal that is gone count",
        "capture/analysis/fit/measured_part.py",
        " if reading.pass_ == newest]\n",
        " if reading.pass_ <= newest]\n",
        "tests/capture/folds/test_measured.py::"
        "test_after_a_pass_earlier_readings_of_the_shaft_are_of_metal_that_is_gone",
    ),
    Mistake(
        "the oldest recording tells of the part",
        "capture/sessions.py",
        "    return max(holding, key=",
        "    return min(holding, key=",
        "tests/capture/test_sessions.py::test_a_part_is_told_by_the_session_that_measured_it_last",
    ),
    # Plating.
    Mistake(
        "the whole runout is taken off the thinnest side",
        "capture/metrology/plating/deposit.py",
        "    least = thickness - runout / 2.0\n",
        "    least = thickness - runout\n",
        METROLOGY + "plating.py::test_half_the_runout_comes_off_the_thinnest_side",
    ),
    Mistake(
        "stock is ordered for one side",
        "capture/metrology/plating/deposit.py",
        "        plated=finished + 2.0 * stock,\n",
        "        plated=finished + stock,\n",
        METROLOGY + "plating.py::test_an_order_is_strip_plate_and_deposit",
    ),
    # Sweeps.
    Mistake(
        "any way out and in is a redo",
        "capture/state/sweep/sweep.py",
        "    again = sample.at - state.left_at <= told.limits.redo and _was_in(state)\n",
        "    again = _was_in(state)\n",
        SWEEP + "test_withdrawn_and_entered_again_within_two_seconds_is_a_gesture_and_slower_is_not",
    ),
    Mistake(
        "a stream is kept without end",
        "capture/state/sweep/sweep.py",
        "    if len(recent) >= 2 * KEPT:\n",
        "    if len(recent) >= 2000 * KEPT:\n",
        SWEEP + "test_what_is_looked_back_upon_is_bounded",
    ),
    # The machine remembered, and the coach.
    Mistake(
        "a memory gets surer than machines stay the same",
        "capture/analysis/machine_memory.py",
        "    return mean, max(sqrt(1.0 / (w_old + w_new)), drift / 2.0)\n",
        "    return mean, sqrt(1.0 / (w_old + w_new))\n",
        "tests/capture/folds/test_machine.py::"
        "test_what_is_learnt_lies_between_and_is_no_surer_than_machines_stay_the_same",
    ),
    Mistake(
        "advice of an older pass passes for new",
        "capture/analysis/next_step.py",
        "    stale = row is not None and coaching.after != row.number\n",
        "    stale = False\n",
        "tests/capture/folds/test_coach.py::test_advice_of_an_older_pass_is_said_to_be_old",
    ),
    Mistake(
        "a script may read the dashboard's cookie",
        "dashboard/web/guard.py",
        "httponly=True, ",
        "httponly=False, ",
        GUARD + "test_the_token_is_taken_once_and_kept_in_a_cookie_no_script_can_read",
    ),
    Mistake(
        "a dialect reads what only looks like a number",
        "capture/dialects/decimal.py",
        r"(?P<digits>[0-9]+(?:",
        r"(?P<digits>[0-9_]+(?:",
        LAWS + "test_what_passes_for_a_number_elsewhere_is_no_reading",
    ),
    # Types.
    Mistake(
        "what is not known yet is divided",
        "capture/state/health.py",
        "        return None if self.last_at is None else (",
        "        return (",
        TYPES,
    ),
    Mistake(
        "a header that is not there is asked for its job",
        "capture/recording/writer.py",
        "    if scanned.header is None:\n",
        "    if scanned.damage is not None:\n",
        TYPES,
    ),
    Mistake(
        "an unknown infeed is added up",
        "capture/state/grinding/infeed_gauge.py",
        "    if state.now is None or state.at_take is None:\n        return None\n",
        "",
        TYPES,
    ),
    Mistake(
        "a unit that there is not",
        "capture/dialects/decimal.py",
        "    return Reading(float(value), scale.unit,",
        '    return Reading(float(value), "inch",',
        TYPES,
    ),
)


def missing() -> list[str]:
    """Mistakes that cannot be made any more, because their line has changed."""
    return [
        f"{one.file}: {one.what}: its line is there {found} times, once was due"
        for one in MISTAKES
        if (found := (ROOT / one.file).read_text("utf-8").count(one.right)) != 1
    ]


def copy_to(folder: Path) -> None:
    """The tree as it stands, without what others may be writing."""
    for part in PARTS:
        source = ROOT / part
        if source.is_dir():
            shutil.copytree(source, folder / part, ignore=shutil.ignore_patterns("__pycache__", ".*"))
        elif source.exists():
            shutil.copy(source, folder / part)


def caught(one: Mistake, folder: Path) -> bool:
    """Whether the check of *one* fails in *folder*, where the mistake stands while it runs."""
    path = folder / one.file
    right = path.read_text("utf-8")
    path.write_text(right.replace(one.right, one.wrong), "utf-8")
    try:
        program = kind(one.check)
        words = {TYPES: [one.file], IMPORTS: []}.get(program, [one.check])
        return run(program, words, folder).returncode == FAILS[program]
    finally:
        path.write_text(right, "utf-8")


def green(chosen: Sequence[Mistake], folder: Path) -> bool:
    """Whether every check passes where no mistake was made; says what does not."""
    tests = [one.check for one in chosen if kind(one.check) == "pytest"]
    types = sorted({one.file for one in chosen if one.check == TYPES})
    runs = [("pytest", tests)] * bool(tests) + [(TYPES, types)] * bool(types)
    if any(one.check == IMPORTS for one in chosen):
        runs.append((IMPORTS, []))
    sound = True
    for program, words in runs:
        done = run(program, words, folder)
        if done.returncode:
            sound = False
            say(f"not green without a mistake: {program}\n{done.stdout[-2000:]}")
    return sound


FAILS = {TYPES: 1, IMPORTS: 1, "pytest": 1}
"""Exit status of a check that has found something; another one means that it could not look."""


def kind(check: str) -> str:
    """Which program runs a check."""
    return check if check in {TYPES, IMPORTS} else "pytest"


def run(program: str, words: list[str], folder: Path) -> subprocess.CompletedProcess[str]:
    """Runs a program of checks in *folder*."""
    beside = Path(sys.executable).parent
    commands = {
        TYPES: [sys.executable, "-m", "mypy", "--no-error-summary", *words],
        IMPORTS: [str(beside / "lint-imports"), "--no-cache"],
        "pytest": [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", *words],
    }
    return subprocess.run(
        commands[program],
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
    chosen = [
        one
        for one in MISTAKES
        if not given.words or any(word in f"{one.file} {one.what} {one.check}" for word in given.words)
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
            say(f"{'caught' if seen else 'NOT CAUGHT'}  {one.what}  ({one.file}; {one.check})")
    say(f"{len(chosen) - unseen} of {len(chosen)} caught")
    return 1 if unseen else 0


def say(line: str) -> None:
    """One line, at once."""
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    sys.exit(main())
