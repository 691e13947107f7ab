"""Teaching from files and in a conversation, as a command would do it."""

from __future__ import annotations

import json
import random
from decimal import Decimal

import pytest

from capture.dialects.taught.format_files import BadFormat, read_format
from capture.teaching.lesson import PLAN, BadExamples, Conversation, read_dump, teach_from, try_format

READINGS = [
    ("+12.345mm", "12.345", "mm"),
    ("-03.210mm", "-3.210", "mm"),
    ("+00.017mm", "0.017", "mm"),
    ("+0.4860in", "0.4860", "in"),
    ("-0.1264in", "-0.1264", "in"),
]


def lines(*rows: object) -> str:
    return "\n".join(json.dumps(row) for row in rows) + "\n"


def came(example: int, t: float, data: bytes) -> dict[str, object]:
    return {"example": example, "t": t, "hex": data.hex()}


DUMP = lines(
    *(
        came(place, at, part)
        for place, (text, _, _) in enumerate(READINGS)
        for at, part in ((0.0, text[:4].encode()), (0.004, text[4:].encode() + b"\r\n"))
    )
)
SHOWN = lines(*({"example": n, "shown": shown, "unit": unit} for n, (_, shown, unit) in enumerate(READINGS)))


def test_two_files_teach_a_dialect_file_that_reads_another_dump():
    taught = teach_from(DUMP, SHOWN, "dump.jsonl", "shown.jsonl")
    dump = lines(
        came(0, 0.5, b"-07.6"), came(0, 0.504, b"54mm\r\n+1.0000in\r\n"), came(1, 0.0, b"+07.654ms\r\n")
    )
    said = try_format(taught["format"], dump, "gauge.toml", "dump.jsonl")

    assert said[:2] == [
        {"t": 0.504, "shown": "-7.654", "unit": "mm"},
        {"t": 0.504, "shown": "1.0000", "unit": "in"},
    ]
    assert set(said[2]) == {"t", "refused"}
    assert taught["open"] == []
    assert taught["mistyped"] is None


def test_what_was_taught_reads_back_what_it_was_taught_from():
    taught = teach_from(DUMP, SHOWN, "dump.jsonl", "shown.jsonl")
    said = try_format(taught["format"], DUMP, "gauge.toml", "dump.jsonl")

    assert said == [{"t": 0.004, "shown": shown, "unit": unit} for _, shown, unit in READINGS]


def test_a_mistyped_reading_is_named_by_its_example():
    shown = SHOWN.replace('"0.017"', '"0.071"')

    assert teach_from(DUMP, shown, "dump.jsonl", "shown.jsonl")["mistyped"] == 2


def test_all_faults_of_the_files_are_named_with_their_lines():
    dump = lines(
        came(0, 1.0, b"1"), came(0, 0.5, b"2"), {"example": 1, "t": 0, "hex": "2"}, {"t": "x", "hex": ""}
    )
    with pytest.raises(BadExamples) as caught:
        read_dump(dump, "dump.jsonl")

    assert sorted(fault.split(":")[0] for fault in caught.value.faults) == [
        "dump.jsonl, line 2",
        "dump.jsonl, line 3",
        "dump.jsonl, line 4",
    ]
    assert "after 1.0: time can't go back" in str(caught.value)


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ('"12.345"', '"12.3.4"', "shown.jsonl, line 1: '12.3.4' is no number"),
        ('"unit": "in"', '"unit": "ft"', "'ft' is no unit: mm, um, in"),
        ('"example": 4', '"example": 3', "line 5: example 3 is there twice"),
        ('"example": 4', '"example": 7', "shown.jsonl: example 7 is not in dump.jsonl"),
        ('"example": 4', '"exmaple": 4', "line 5: Object"),
    ],
)
def test_a_fault_in_what_was_shown_is_named(old, new, fault):
    with pytest.raises(BadExamples) as caught:
        teach_from(DUMP, SHOWN.replace(old, new), "dump.jsonl", "shown.jsonl")

    assert fault in str(caught.value)


def test_a_bad_dialect_file_is_named():
    with pytest.raises(BadFormat, match=r"gauge\.toml: frame is missing"):
        try_format("", DUMP, "gauge.toml", "dump.jsonl")


def tell(conversation: Conversation, frame: str, typed: str) -> tuple[Conversation, list[str]]:
    return conversation.receive(0.0, frame.encode() + b"\r\n").answer(typed)


def test_five_readings_in_a_conversation_teach_a_gauge():
    talk = Conversation()
    prompts = []
    for frame, shown, unit in READINGS:
        prompts.append(talk.prompt)
        assert not talk.done
        talk, said = tell(talk, frame, f"{shown} {unit}")

    assert all(question in prompt for question, prompt in zip(PLAN, prompts, strict=True))
    assert talk.done
    assert talk.prompt == ""
    assert "a message is a line that ends in CR LF" in said
    assert talk.file is not None
    assert read_format(talk.file, "gauge.toml") == talk.lesson.format
    assert talk.live(((7.0, b"+01.500mm\r\n"),)) == [(7.0, "1.500 mm")]
    assert talk.live(((7.0, b"+01.500xx\r\n"),))[0][1].startswith("refused: ")


def test_a_gauge_with_one_unit_and_no_negative_readings_can_say_so():
    talk = Conversation()
    for typed in ("12.345 mm", "no", "0.017", "no", "no"):
        talk, _ = tell(talk, f"{typed[:6]}mm", typed) if typed != "no" else talk.answer(typed)
    talk, _ = tell(talk, "7.111mm", "7.111")
    while talk.questions:
        talk, _ = talk.answer("no")

    assert talk.done
    assert [example.shown for example in talk.examples] == [
        Decimal("12.345"),
        Decimal("0.017"),
        Decimal("7.111"),
    ]


def test_an_answer_that_cannot_be_taken_says_why_and_changes_nothing():
    talk = Conversation().receive(0.0, b"+12.345mm\r\n")

    assert talk.answer("12.345") == (talk, ["type the unit too, such as 12.345 mm"])
    assert talk.answer("twelve mm")[0] == talk
    assert talk.answer("twelve")[1][0].startswith("'twelve' is no number")
    assert talk.answer("12.345 ft")[1][0].startswith("'ft' is no unit")
    assert "nothing came from the gauge" in Conversation().answer("12.345 mm")[1][0]


def test_the_last_reading_can_be_taken_back():
    talk, _ = tell(Conversation(), "+12.345mm", "12.354 mm")
    talk, said = talk.answer("back")

    assert said == ["the last reading is forgotten"]
    assert talk.examples == ()
    assert PLAN[0] in talk.prompt
    assert talk.answer("back")[1] == ["there is no reading to forget"]


def test_a_mistyped_reading_is_left_out_and_asked_for_again():
    talk, said = Conversation(), []
    for frame, shown, unit in READINGS:
        talk, now = tell(talk, frame, f"{shown} {unit}" if shown != "0.017" else "0.071 mm")
        said += now

    assert "0.071 mm contradicts the other readings and is left out: show it again" in said
    assert len(talk.examples) == 4
    assert talk.lesson.mistyped is None


def test_a_press_after_a_refused_answer_counts_alone():
    """The second press comes 0.3 s after the first, of another size; nothing contradicts anything."""
    talk, at = Conversation(), 0.0
    for first, second in ((12.345, 13.345), (-9.871, -8.871), (0.012, 0.017), (7.5, 7.6)):
        talk = talk.receive(at, f"{first:+08.3f}mm\r\n".encode())
        talk, refused = talk.answer("what?")
        talk = talk.receive(at + 0.3, f"{second:+08.3f}mm\r\n".encode())
        talk, said = talk.answer(f"{second:.3f} mm")
        at += 10.0
        assert refused == ["'what?' is no number: type it as the display shows it, such as -12.345"]
        assert said[0] == f"{second:.3f} mm is taken"

    assert talk.live(((99.0, b"+001.500mm\r\n"),)) == [(99.0, "1.500 mm")]


def test_a_press_again_without_a_refusal_counts_alone_too():
    talk = Conversation().receive(0.0, b"+01.000mm\r\n").receive(0.4, b"+02.000mm\r\n")
    talk, _ = talk.answer("2.000 mm")

    assert [data for _, data in talk.examples[0].chunks] == [b"+02.000mm\r\n"]


def test_what_is_understood_is_said_once():
    talk, all_said = Conversation(), []
    for frame, shown, unit in READINGS:
        talk, said = tell(talk, frame, f"{shown} {unit}")
        all_said += said

    assert len(all_said) == len(set(all_said))


def hexadecimal(shown: str, unit: str) -> str:
    """A count in the steps of the display as two's complement, with labels of different length."""
    count = int(Decimal(shown).scaleb(3 if unit == "mm" else 4)) % (1 << 24)
    return f"{count:06X} {unit if unit == 'mm' else 'inch'}"


def test_no_reading_is_blamed_whose_unit_has_a_longer_name():
    talk = Conversation()
    for _, shown, unit in READINGS:
        talk, said = tell(talk, hexadecimal(shown, unit), f"{shown} {unit}")
        assert said[0] == f"{shown} {unit} is taken"

    assert talk.done
    assert talk.live(((7.0, hexadecimal("-0.2500", "in").encode() + b"\r\n"),)) == [(7.0, "-0.2500 in")]
    assert talk.live(((7.0, b"0000FF cm\r\n"),))[0][1].startswith("refused: ")


def test_a_press_that_was_damaged_on_the_way_is_not_blamed_on_who_typed():
    talk, said = Conversation(), []
    for frame, shown, unit in [*READINGS[:3], ("+0\x00.8mm", "7.812", "mm")]:
        talk, said = tell(talk, frame, f"{shown} {unit}")

    assert said[0] == (
        "what came with 7.812 mm is unlike what came with the others and is left out: show it again"
    )
    assert len(talk.examples) == 3


def test_the_unit_typed_last_holds_for_the_next_though_that_reading_was_left_out():
    talk, _ = tell(Conversation(), "+12.345mm", "12.345 mm")
    talk = talk.back()

    assert tell(talk, "+12.345mm", "12.345")[1][0] == "12.345 mm is taken"


@pytest.mark.parametrize(("step", "slower"), [(0.02, True), (3.0, False)])
def test_a_lesson_that_is_stuck_says_what_the_gauge_can_be_set_to_and_nothing_twice(step, slower):
    """What comes has nothing to do with the display."""
    talk, asked, at = Conversation(), [], 0.0
    noise = random.Random(7)  # noqa: S311
    for number in range(7):
        if talk.question in PLAN[3:]:
            talk, _ = talk.answer("no")
        for _ in range(int(1.6 / step) or 1):
            talk, at = talk.receive(at, b"\xa5" + noise.randbytes(5)), at + step
        asked.append(talk.question)
        talk, _ = talk.answer(f"{number * 3.107 + 1:.3f} mm")
    advice = [question for question in asked if question not in PLAN and question != "show another reading"]

    assert talk.lesson.format is None
    assert len(advice) == len(set(advice)) > 1
    assert any("send on a press" in question for question in advice) == slower
    assert any("send text" in question for question in advice)
