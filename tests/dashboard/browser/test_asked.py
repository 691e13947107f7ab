"""What the pages ask, and what is chosen rather than typed."""

from __future__ import annotations

import pytest

from capture.events import Confirmation, Stage

pytestmark = [pytest.mark.browser, pytest.mark.timeout(400)]


def test_a_reading_far_from_all_others_is_asked_about_with_two_buttons(show, recording, ground, capture_of):
    with capture_of(recording, ground):
        screen = show(str(recording))
        screen.page.wait_for_selector("#pass:visible")
        before = screen.text("size")
        screen.page.click("a[href='#gauges']")
        screen.page.fill("#typed-gauge", "mike")
        screen.page.fill("#typed", "55.5")
        screen.page.click("#typed-say")
        screen.until("question", "55.500 mm at 140 mm is .* above the others.* set aside")
        screen.page.click("a[href='#grinding']")
        size = screen.text("size")
        screen.page.click("#question-no")
        screen.page.wait_for_selector("#question-line", state="hidden")

    assert size == before
    assert ground.state.stations.taken[-1].value == 55.5
    assert [one.fact.yes for one in ground.events if isinstance(one.fact, Confirmation)] == [False]


def test_a_stage_is_chosen_from_the_jobs_list(show, recording, ground, capture_of):
    with capture_of(recording, ground):
        screen = show(str(recording))
        screen.page.wait_for_selector("#pass:visible")
        screen.page.select_option("#stage-choice", "rough")
        screen.page.click("#stage-say")
        screen.until("stage", "Stage: rough")
        screen.page.fill("#text", "honed")
        screen.page.click("#own-say")
        screen.until("stage", "Stage: honed")
        screen.until("stage-choice", "honed")
        chosen = screen.page.input_value("#stage-choice")

    stages = [one.fact.name for one in ground.events if isinstance(one.fact, Stage)]
    assert stages[-2:] == ["rough", "honed"]
    assert chosen == "honed"


def test_a_job_without_a_bore_gauge_offers_the_pages_where_one_is_added(show, recording):
    screen = show(str(recording))
    screen.page.click("a[href='#bore']")
    screen.until("bore-say", "This job has no bore gauge")

    assert screen.page.locator("#page-bore section:visible").count() == 1
    screen.page.click("#bore-offer a[href='#gauges']")
    screen.page.wait_for_selector("#page-gauges:visible")
