"""The switch of the sound on a page that speaks, how loud it is, and in large letters what is said."""

from __future__ import annotations

from typing import Any

from dash import html
from dash.development.base_component import Component

from dashboard.text import voice
from dashboard.text.screen import word
from dashboard.views.elements.controls import plain


def sound_switch(page: str = "", *more: Component) -> html.Section:
    """The switch; *page* begins the ids where one page has its own, and *more* stands behind it."""
    words: dict[str, Any] = {
        "data-on": word("sound.on"),
        "data-off": word("sound.off"),
        "data-lang": voice.LANGUAGE,
    }
    volume = word("sound.volume", volume="{volume}")
    return html.Section(
        [
            _button("switch", f"{page}sound", word("sound.off"), aria_pressed="false", **words),
            _button("quieter", f"{page}quieter", "−", aria_label=word("sound.quieter")),
            html.Output("", id=f"{page}volume", **plain(data_sound="volume", data_words=volume)),
            _button("louder", f"{page}louder", "+", aria_label=word("sound.louder")),
            html.P(word("sound.tones"), id=f"{page}tones-alone", hidden=True, **plain(data_sound="tones")),
            *more,
        ],
        id=f"{page}sound-box",
        className="sound-box",
    )


def _button(sound: str, name: str, text: str, **attributes: str) -> html.Button:
    return html.Button(text, id=name, type="button", **plain(data_sound=sound, **attributes))
