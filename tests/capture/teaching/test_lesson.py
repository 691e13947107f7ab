"""Teaching from files and in a conversation, as a command would do it."""

from __future__ import annotations

import json
from decimal import Decimal

import pytest

from capture.dialects.taught import BadFormat, read_format
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
    return conversation.hear(0.0, frame.encode() + b"\r\n").answer(typed)


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
    talk = Conversation().hear(0.0, b"+12.345mm\r\n")

    assert talk.answer("12.345") == (talk, ["type the unit too, such as 12.345 mm"])
    assert talk.answer("twelve mm")[0] == talk
    assert talk.answer("12.345 ft")[1][0].startswith("'ft' is no unit")
    assert "nothing came from the gauge" in Conversation().answer("12.345 mm")[1][0]


def test_the_last_reading_can_be_taken_back():
    talk, _ = tell(Conversation(), "+12.345mm", "12.354 mm")
    talk, said = talk.answer("back")

    assert said == ["the last reading is forgotten"]
    assert talk.examples == ()
    assert PLAN[0] in talk.prompt
    assert talk.answer("back")[1] == ["there is none yet"]


def test_a_mistyped_reading_is_left_out_and_asked_for_again():
    talk, said = Conversation(), []
    for frame, shown, unit in READINGS:
        talk, now = tell(talk, frame, f"{shown} {unit}" if shown != "0.017" else "0.071 mm")
        said += now

    assert "0.071 mm contradicts the other readings and is left out: show it again" in said
    assert len(talk.examples) == 4
    assert talk.lesson.mistyped is None
