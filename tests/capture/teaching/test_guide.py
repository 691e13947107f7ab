"""Teaching step by step, as another program sees it: wishes in, pictures out."""

from __future__ import annotations

import pytest

from capture.dialects.taught.format_files import read_format
from capture.teaching.guide import MOST_READINGS, Guide
from capture.teaching.lesson import PLAN
from capture.teaching.line_settings import TRIED, LineSetting, Search
from capture.teaching.steps import Agree, Back, Came, Cannot, Find, Line, Listening, Reads, Send, Step, Take

FOUND = Guide(search=Search(found=LineSetting(), sure=True))


def picture(guide, kind):
    return next(one for one in guide.pictures() if isinstance(one, kind))


def told(guide, *pairs: tuple[bytes, str, str], at=0.0):
    """The guide after each frame came and what the display showed was typed."""
    for frame, shown, unit in pairs:
        guide, answered = guide.receive(at, frame).answer(Take(shown, unit))
        assert answered.why == ""
        at += 10.0
    return guide


THREE = (
    (b"V+0123.456\r\n", "123.456", "mm"),
    (b"V-0098.765\r\n", "-98.765", "mm"),
    (b"V+0000.004\r\n", "0.004", "mm"),
)


def test_a_lesson_asks_is_told_and_says_what_it_believes_and_how_sure_it_is():
    guide = told(FOUND, *THREE)
    step = picture(guide, Step)

    assert picture(told(FOUND, THREE[0]), Step).sure == "nothing"
    assert step.sure == "reads"
    assert step.asks == PLAN[3]
    assert [state for _, state in step.plan] == ["done", "done", "done", "now", "left"]
    assert step.readings == (("123.456", "mm"), ("-98.765", "mm"), ("0.004", "mm"))
    assert "a message is a line that ends in CR LF" in step.understood
    assert step.digit == "0.001 mm"


def test_a_gauge_without_a_unit_key_is_asked_nothing_more_of_units():
    guide, _ = told(FOUND, *THREE).answer(Cannot())
    step = picture(guide, Step)

    assert step.sure == "all"
    assert step.asks == ""
    assert step.open == ()
    assert [state for _, state in step.plan] == ["done", "done", "done", "cannot", "cannot"]
    assert read_format(step.file, "gauge.toml") == guide.talk.lesson.format


def test_what_comes_is_read_through_what_was_learnt_and_a_person_agrees():
    guide = told(FOUND, *THREE).receive(50.0, b"V+0055.120\r\n")
    agreed, _ = guide.answer(Agree())

    assert picture(guide, Reads) == Reads("55.120", "mm")
    assert picture(agreed, Step).agreed == 1
    assert picture(guide.receive(60.0, b"V*0055.120\r\n"), Reads).refused


def test_what_was_agreed_to_counts_no_more_when_something_else_is_learnt():
    guide, _ = told(FOUND, *THREE).receive(50.0, b"V+0055.120\r\n").answer(Agree())
    after, _ = guide.answer(Back())

    assert picture(after, Step).agreed == 0
    assert len(picture(after, Step).readings) == 2


def test_a_display_that_contradicts_what_was_learnt_asks_for_another_comparison():
    guide = told(FOUND, *THREE, (b"V+0045.210\r\n", "45.210", "mm"))
    guide, _ = guide.receive(50.0, b"V+0055.120\r\n").answer(Agree())
    after, answered = guide.receive(60.0, b"V+0033.125\r\n").answer(Take("91.500", "mm"))

    assert picture(guide, Step).agreed == 1
    assert "91.500 mm contradicts" in answered.said or picture(after, Step).sure == "nothing"
    assert picture(after, Step).agreed == 0


@pytest.mark.parametrize("shown", ["9" * 4000, "0." + "1" * 4000, "-" + "0" * 4000 + ".5", "9" * 25])
def test_a_number_without_end_is_refused_before_anything_is_worked_out(shown):
    _, answered = told(FOUND, *THREE).receive(50.0, b"V+0055.120\r\n").answer(Take(shown, "mm"))

    assert (answered.field, "due a number of at most 24" in answered.why) == ("shown", True)


def test_the_widest_number_that_is_taken_stops_nothing():
    guide, _ = told(FOUND, *THREE).receive(50.0, b"V+0055.120\r\n").answer(Take("9" * 24, "mm"))

    assert guide.pictures()


def test_nothing_can_be_agreed_to_before_something_is_read():
    _, answered = FOUND.answer(Agree())

    assert answered.why.startswith("nothing is read now")


@pytest.mark.parametrize(
    ("shown", "unit", "field", "why"),
    [
        ("twelve", "mm", "shown", "'twelve' is no number"),
        ("12.345", "ft", "unit", "'ft' is no unit: mm, um, in"),
        ("12.345", "", "unit", "'' is no unit"),
    ],
)
def test_what_was_typed_wrongly_is_refused_at_its_field(shown, unit, field, why):
    guide = FOUND.receive(0.0, b"+12.345\r\n")
    after, answered = guide.answer(Take(shown, unit))

    assert (answered.field, answered.number) == (field, 1)
    assert why in answered.why
    assert after.talk == guide.talk


def test_a_reading_before_which_nothing_came_is_refused():
    guide = told(FOUND, THREE[0])
    _, answered = guide.answer(Take("5.000", "mm"))

    assert answered.field == "shown"
    assert "nothing came from the gauge" in answered.why


def test_a_mistyped_reading_is_left_out_and_said():
    guide = told(FOUND, *THREE, (b"V+0045.210\r\n", "45.210", "mm"))
    guide, answered = guide.receive(90.0, b"V+0033.125\r\n").answer(Take("33.152", "mm"))

    assert answered.said == "33.152 mm contradicts the other readings and is left out: show it again"
    assert len(picture(guide, Step).readings) == 4


def test_a_stream_is_learnt_from_where_it_stood_still_not_from_the_way_there():
    """Twenty readings a second, moved between the readings as hands do."""
    guide, at = FOUND, 0.0
    for shown in ("12.345", "-3.210", "0.017", "8.966"):
        for tick in range(100):
            value = float(shown) + max(0, 60 - tick) * 0.1
            guide = guide.receive(at, f"{value:+08.3f}\r\n".encode())
            at += 0.05
        guide, answered = guide.answer(Take(shown, "mm"))
        assert (answered.why, answered.said) == ("", "")

    assert picture(guide, Step).sure == "reads"
    assert picture(guide.receive(at, b"+001.000\r\n"), Reads) == Reads("1.000", "mm")


def test_the_setting_of_the_line_is_searched_and_what_it_was_found_by_counts():
    guide = Guide().receive(0.0, b"\x80\x81\x82\x83")
    searching = guide.pause()
    found = searching.receive(5.0, b"V+0123.456\r\n").pause()
    taken, answered = found.answer(Take("123.456", "mm"))

    assert searching.setting == TRIED[1]
    assert searching.tail == b""
    assert picture(found, Listening).sure
    assert answered.why == ""
    assert len(picture(taken, Step).readings) == 1


def test_nothing_is_learnt_from_what_a_wrong_setting_heard():
    guide = Guide().receive(0.0, b"\x80\x81")
    _, answered = guide.answer(Take("12.345", "mm"))

    assert "setting of the line is not found yet" in answered.why


def test_a_person_may_choose_the_setting_until_readings_rest_on_it():
    guide, _ = Guide().answer(Line(4800, 7, "E"))
    _, wrong = guide.answer(Line(0))
    again, _ = guide.answer(Find())
    _, late = told(guide, THREE[0]).answer(Line(9600))

    assert guide.setting == LineSetting(4800, 7, "E")
    assert again.searching
    assert wrong.why == "baud: came 0, due 50 to 4000000"
    assert "take them back first" in late.why


def test_a_link_without_a_serial_line_has_no_setting():
    guide = Guide(search=None)

    assert not [one for one in guide.pictures() if isinstance(one, Listening)]
    assert guide.answer(Find())[1].why == "this link has no settings of a serial line"
    assert picture(told(guide, THREE[0]), Step).readings


def test_what_is_sent_to_a_gauge_that_must_be_asked_goes_into_the_file():
    guide, _ = told(FOUND, *THREE).answer(Send(r"?\r"))
    _, wrong = guide.answer(Send("µ"))

    assert read_format(picture(guide, Step).file, "gauge.toml").ask == "?\r"
    assert wrong.field == "ask"
    assert guide.answer(Send("x" * 65))[1].why == "came 65 bytes, due at most 64"


def test_what_came_is_shown_as_it_came():
    guide = told(FOUND, THREE[0]).receive(20.0, b"\x02<b>\x1b[2J\xff\r\n")

    assert picture(guide, Came) == Came(23, 11, ("V+0123.456\\r\\n", "\\x02<b>\\x1b[2J\\xff\\r\\n"))


def test_a_flood_is_kept_in_bounds():
    guide = FOUND
    for n in range(500):
        guide = guide.receive(n / 100, b"x" * 4000)

    assert len(guide.tail) < 300
    assert sum(len(data) for _, data in guide.live) <= 2048
    assert sum(len(data) for _, data in guide.talk.received) <= 16 << 10
    assert all(len(line) < 500 for line in picture(guide, Came).lines)


def test_readings_are_not_taken_without_end():
    guide = FOUND
    for n in range(MOST_READINGS):
        guide, _ = guide.receive(10.0 * n, b"+1.000\r\n").answer(Take("1.000", "mm"))
    _, answered = guide.receive(9999.0, b"+1.000\r\n").answer(Take("1.000", "mm"))

    assert answered.why.startswith(f"{MOST_READINGS} readings were taken")
