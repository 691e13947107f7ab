from __future__ import annotations

import asyncio
import threading

from dashboard.sources.scene import Scene
from dashboard.sources.scene_store import SceneStore


def test_who_looks_late_sees_the_newest_scene_only():
    store = SceneStore(lambda _page, scene, _units: {"name": scene.name})
    for name in ("one", "two", "three"):
        store.publish(Scene("live", name))

    assert store.shown("bore", None) == (3, {"name": "three"})


def test_a_scene_is_drawn_once_for_all_who_look_in_the_same_units():
    drawn = []
    store = SceneStore(lambda _page, _scene, units: drawn.append(units) or {})
    store.publish(Scene("live"))
    for units in (None, None, "in", "in"):
        store.shown("bore", units)

    assert drawn == [None, "in"]


def test_a_scene_hung_by_another_thread_wakes_every_listener():
    async def listen() -> int:
        store = SceneStore(lambda _page, _scene, _units: {})
        store.open()
        listeners = [asyncio.create_task(store.after(0, 30.0)) for _ in range(3)]
        await asyncio.sleep(0)
        threading.Thread(target=store.publish, args=[Scene("live")]).start()
        await asyncio.gather(*listeners)
        return store.version

    assert asyncio.run(listen()) == 1


def test_a_listener_that_missed_a_scene_does_not_wait():
    async def listen() -> None:
        store = SceneStore(lambda _page, _scene, _units: {})
        store.open()
        store.publish(Scene("live"))
        await store.after(0, 3600.0)

    asyncio.run(listen())


def test_closing_ends_the_wait():
    async def listen() -> bool:
        store = SceneStore(lambda _page, _scene, _units: {})
        store.open()
        waiting = asyncio.create_task(store.after(0, 3600.0))
        await asyncio.sleep(0)
        store.close()
        await waiting
        return store.closed

    assert asyncio.run(listen())
