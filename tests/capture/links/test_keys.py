"""Numbers and names of keys are those of the Linux kernel, as evdev has them."""

from __future__ import annotations

import sys

import pytest

if sys.platform != "linux":
    pytest.skip("evdev, with the kernel's numbers, is there on Linux only", allow_module_level=True)

from evdev import InputEvent, ecodes

from capture.links.keys import EV_KEY, EV_SYN, SYN_DROPPED, US, Typist


def typist(**keys: str):
    return Typist(ecodes.ecodes, keys)


def event(name, value):
    return InputEvent(0, 0, EV_KEY, ecodes.ecodes[name], value)


def pressed(*names: str):
    return [event(name, value) for name in names for value in (1, 0)]


def test_the_numbers_are_the_kernels():
    assert (EV_SYN, EV_KEY, SYN_DROPPED) == (ecodes.EV_SYN, ecodes.EV_KEY, ecodes.SYN_DROPPED)


def test_number_row_and_keypad_type_a_line():
    row = pressed("KEY_MINUS", "KEY_1", "KEY_2", "KEY_DOT", "KEY_5", "KEY_ENTER")
    keypad = pressed("KEY_KPMINUS", "KEY_KP1", "KEY_KP2", "KEY_KPDOT", "KEY_KP5", "KEY_KPENTER")

    assert typist().text(row) == typist().text(keypad) == "-12.5\r"


def test_shift_counts_while_it_is_held_across_reads_too():
    keys = typist()

    assert keys.text([event("KEY_RIGHTSHIFT", 1)]) == ""
    assert keys.text(pressed("KEY_EQUAL", "KEY_A")) == "+A"
    assert keys.text([event("KEY_RIGHTSHIFT", 0), *pressed("KEY_EQUAL", "KEY_A")]) == "=a"


def test_a_key_held_down_types_once():
    assert typist().text([event("KEY_1", 1), event("KEY_1", 2), event("KEY_1", 2), event("KEY_1", 0)]) == "1"


def test_locks_and_other_modifiers_type_nothing():
    assert typist().text(pressed("KEY_NUMLOCK", "KEY_LEFTCTRL", "KEY_CAPSLOCK", "KEY_RIGHTALT")) == ""


def test_a_key_without_a_text_and_missed_keys_garble_the_line():
    dropped = InputEvent(0, 0, EV_SYN, SYN_DROPPED, 0)

    assert typist().text([*pressed("KEY_1", "KEY_F5"), dropped, *pressed("KEY_2")]) == "1??2"


def test_missed_keys_may_have_let_go_of_shift():
    dropped = InputEvent(0, 0, EV_SYN, SYN_DROPPED, 0)

    assert typist().text([event("KEY_LEFTSHIFT", 1), dropped, *pressed("KEY_1")]) == "?1"


def test_a_key_may_stand_for_words():
    keys = typist(KEY_B="pass 0.004\r", KEY_SLASH="-", BTN_LEFT="undo\r", KEY_CAPSLOCK="x")

    assert keys.text(pressed("KEY_B", "KEY_SLASH", "BTN_LEFT", "KEY_CAPSLOCK")) == "pass 0.004\r-undo\rx"
    assert ecodes.ecodes["BTN_LEFT"] in keys.codes


def test_a_name_that_the_kernel_has_not_is_an_error():
    with pytest.raises(KeyError, match="KEY_PEDAL"):
        typist(KEY_PEDAL="x")


def test_every_key_of_the_layout_has_its_two_texts():
    assert all(len(plain) == len(shifted) == 1 for plain, shifted in US.values())
