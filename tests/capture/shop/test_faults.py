"""Whatever fails on the way, a recording is stored byte for byte, each line once: with the real engines."""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path
from random import Random

import psycopg
import pytest

RECORDINGS = Path(__file__).parents[3] / "recordings"
GROWING = b"".join((RECORDINGS / "growing.jsonl").read_bytes().splitlines(keepends=True)[:901])
SEED = 20261129


class Growing:
    """A recording that grows by itself, as a capture writes it, up to a share of the whole at a time."""

    def __init__(self, path: Path) -> None:
        self.path, self.data = path, GROWING
        self._at = 0
        self._thread: threading.Thread | None = None

    def on(self, share: float = 1.0, seconds: float = 1.0) -> None:
        """Goes on growing up to *share* of the whole, in so many seconds."""
        self.rest()
        self._thread = threading.Thread(target=self._grow, args=(int(share * len(self.data)), seconds))
        self._thread.start()

    def _grow(self, end: int, seconds: float) -> None:
        step = (end - self._at) // 50 + 1
        with self.path.open("ab", buffering=0) as file:
            for start in range(self._at, end, step):
                file.write(self.data[start : min(start + step, end)])
                time.sleep(seconds / 50)
        self._at = end

    def rest(self) -> None:
        """Waits until it has grown as far as it should."""
        if self._thread is not None:
            self._thread.join()

    @property
    def lines(self) -> int:
        """Events in what is written, once it rests."""
        self.rest()
        return self.data[: self._at].count(b"\n") - 1


@pytest.fixture
def growing(tmp_path):
    made = []

    def begin(name: str = "live.jsonl") -> Growing:
        folder = tmp_path / "machine"
        folder.mkdir(exist_ok=True)
        made.append(Growing(folder / name))
        return made[-1]

    yield begin
    for one in made:
        one.rest()


def held(shop) -> int:
    return sum(shop.stored().values())


def wait_for_all(shop, recording: Growing, wait_until, machine: str = "g1") -> None:
    """Until all of it is stored; then each line is there once, and it comes out as it was recorded."""
    recording.on()
    events = recording.lines
    wait_until(lambda: held(shop) == events, f"{events} events")
    assert shop.query("SELECT count(*), count(DISTINCT seq) FROM store.lines") == [(events, events)]
    assert shop.take_out(recording.path.stem, machine) == recording.data


def begun(shop, recording: Growing, wait_until, **publishing: str):
    """An archive and a publisher that have the first fifth of a recording."""
    archive = shop.archive()
    recording.on(0.2, 0.1)
    publisher = shop.publish(recording.path.parent, **publishing)
    wait_until(lambda: held(shop) == recording.lines, "the first fifth")
    return archive, publisher


def test_a_broker_that_is_killed_and_forgets_everything_loses_nothing(shop, mosquitto, growing, wait_until):
    recording = growing()
    archive, publisher = begun(shop, recording, wait_until)
    for share in (0.5, 0.8):
        recording.on(share, 0.8)
        time.sleep(0.4)
        mosquitto.stop(signal.SIGKILL)
        time.sleep(0.2)
        mosquitto.start()

    wait_for_all(shop, recording, wait_until)
    assert "connected again" in shop.stop(publisher)
    shop.stop(archive)


def test_a_network_that_is_cut_at_both_ends_loses_nothing(shop, mosquitto, cable, growing, wait_until):
    near, far = cable(mosquitto.port), cable(mosquitto.port)
    recording = growing()
    archive = shop.archive(broker=f"mqtt://127.0.0.1:{far.port}/shop")
    recording.on(0.2, 0.1)
    publisher = shop.publish(recording.path.parent, broker=f"mqtt://127.0.0.1:{near.port}/shop")
    wait_until(lambda: held(shop) == recording.lines, "the first fifth")
    recording.on(0.9, 2.0)
    time.sleep(0.3)
    near.cut = True  # nothing passes and nobody is told
    time.sleep(0.7)
    near.tear()
    far.tear()
    time.sleep(0.5)
    near.mend()
    far.mend()

    wait_for_all(shop, recording, wait_until)
    shop.stop(publisher)
    shop.stop(archive)


def test_a_database_that_was_stopped_gets_the_whole_backlog(shop, postgres, growing, wait_until):
    recording = growing()
    archive, publisher = begun(shop, recording, wait_until)
    postgres.stop()
    try:
        recording.on(0.9, 1.0)
        recording.rest()
        time.sleep(1.0)
    finally:
        postgres.start()

    wait_for_all(shop, recording, wait_until)
    said = shop.stop(archive)
    assert "nothing is acknowledged, trying again" in said
    assert "all is stored again" in said
    assert "psycopg" not in said
    shop.stop(publisher)


def test_an_archive_that_was_away_gets_what_came_meanwhile(shop, growing, wait_until):
    shop.stop(shop_up(shop, wait_until))
    recording = growing()
    recording.on(1.0, 0.2)
    recording.rest()
    shop.run("publish", str(recording.path), "--broker", shop.broker, "--machine", "g1", "--once")

    archive = shop.archive()

    wait_for_all(shop, recording, wait_until)
    shop.stop(archive)


def shop_up(shop, wait_until):
    """An archive that has made its tables, and whose session the broker knows."""
    archive = shop.archive()
    wait_until(lambda: shop.query("SELECT to_regclass('store.recordings')")[0][0], "the archive's tables")
    return archive


def fill(path: Path) -> None:
    """Writes a file that takes all the room there is."""
    with path.open("wb", buffering=0) as file, contextlib.suppress(OSError):
        while file.write(b"\0" * 65536):
            pass


class SmallDisk:
    """A disk that is full: a file system in memory, else a stand-in that answers as a full one does."""

    def __init__(self, shop, postgres) -> None:
        self._shop, self._postgres = shop, postgres
        self._place = postgres.folder / "small"
        self._place.mkdir()
        self.kind = "tmpfs" if self._mounted() else "stand-in"

    def _mounted(self) -> bool:
        words = ["mount", "-t", "tmpfs", "-o", "size=3m,mode=700,uid=postgres,gid=postgres", "tmpfs"]
        return (
            os.getuid() == 0
            and subprocess.run([*words, str(self._place)], check=False, capture_output=True).returncode == 0
        )

    def begin(self) -> None:
        """Lets the shop's tables lie on it."""
        with psycopg.connect(self._shop.database, autocommit=True) as one:
            if self.kind == "stand-in":
                one.execute("CREATE TABLE full_now (yes boolean)")
                return
            inside = self._place / "pg"
            inside.mkdir()
            shutil.chown(inside, "postgres", "postgres")
            one.execute(f"CREATE TABLESPACE small LOCATION '{inside}'")
            name = self._shop.database.rpartition("/")[2]
            one.execute(f"ALTER DATABASE {name} SET default_tablespace = small")

    def fill(self) -> None:
        if self.kind == "tmpfs":
            fill(self._place / "filler")
            return
        with psycopg.connect(self._shop.database, autocommit=True) as one:
            one.execute(
                "CREATE FUNCTION full_disk() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN"
                " RAISE EXCEPTION 'no space left on device' USING ERRCODE = 'disk_full'; END $$"
            )
            one.execute("CREATE TRIGGER full_disk BEFORE INSERT ON store.lines EXECUTE FUNCTION full_disk()")

    def empty(self) -> None:
        if self.kind == "tmpfs":
            subprocess.run(["mount", "-o", "remount,size=64m", str(self._place)], check=True)
            return
        with psycopg.connect(self._shop.database, autocommit=True) as one:
            one.execute("DROP TRIGGER full_disk ON store.lines")

    def close(self) -> None:
        """Takes it away, whatever became of the test."""
        if self.kind != "tmpfs":
            return
        name = self._shop.database.rpartition("/")[2]
        try:
            with psycopg.connect(self._postgres.url(), autocommit=True) as one:
                one.execute(f"DROP DATABASE {name} WITH (FORCE)")
                one.execute("DROP TABLESPACE IF EXISTS small")
        finally:
            subprocess.run(["umount", str(self._place)], check=True)


@pytest.fixture
def small_disk(shop, postgres):
    disk = SmallDisk(shop, postgres)
    try:
        disk.begin()
        yield disk
    finally:
        shop.close()
        disk.close()


def test_a_full_disk_of_the_database_stops_it_and_room_lets_it_go_on(shop, small_disk, growing, wait_until):
    recording = growing()
    archive, publisher = begun(shop, recording, wait_until)
    small_disk.fill()
    recording.on(0.9, 0.5)
    wait_until(lambda: "nothing is acknowledged" in shop.said(archive), f"a word about the {small_disk.kind}")
    assert held(shop) < recording.lines, small_disk.kind
    small_disk.empty()

    wait_for_all(shop, recording, wait_until)
    said = shop.stop(archive)
    assert "no space left" in said.lower(), (said, small_disk.kind)
    shop.stop(publisher)


def begin_files_of_log(url: str) -> None:
    with psycopg.connect(url, autocommit=True) as one:
        for _ in range(20):
            one.execute("SELECT pg_logical_emit_message(false, 'x', 'y'), pg_switch_wal()")


@pytest.fixture
def full_server(tmp_path, mosquitto, engine):
    """A shop whose database server, its log too, lies on a small disk of its own, where one can be made."""
    place = Path(tempfile.mkdtemp(prefix="tenths-small-"))
    place.chmod(0o755)
    words = ["mount", "-t", "tmpfs", "-o", "size=120m,mode=755", "tmpfs", str(place)]
    mounted = os.getuid() == 0 and not subprocess.run(words, check=False, capture_output=True).returncode
    server = shop = None
    try:
        server = engine.Postgres("fsync=off\nwal_recycle=off\n", place=place)
        shop = engine.Shop(tmp_path, mosquitto.url, server.create("small"))
        yield shop, server, place / "filler" if mounted else None
    finally:
        if shop is not None:
            shop.close()
        if server is not None:
            server.close()
        if mounted:
            subprocess.run(["umount", str(place)], check=True)
        place.rmdir()


def test_a_disk_too_full_for_the_databases_log_ends_the_server_and_loses_nothing(
    full_server, growing, wait_until
):
    shop, server, filler = full_server
    recording = growing()
    archive, publisher = begun(shop, recording, wait_until)
    if filler is None:
        server.stop()
    else:
        fill(filler)
        with pytest.raises(psycopg.OperationalError):
            begin_files_of_log(server.url())
        assert "PANIC" in (server.folder / "log").read_text("utf-8", "replace")
    recording.on(0.9, 0.3)
    wait_until(lambda: "nothing is acknowledged" in shop.said(archive), "a word about it")
    if filler is not None:
        filler.unlink()
    wait_until(lambda: not (server.data / "postmaster.pid").exists(), "its end")
    server.start()

    wait_for_all(shop, recording, wait_until)
    assert "all is stored again" in shop.stop(archive)
    shop.stop(publisher)


def test_lines_that_come_twice_and_in_any_order_are_stored_once_and_in_order(shop, said_by, wait_until):
    archive = shop_up(shop, wait_until)
    lines = GROWING.splitlines()
    say, name = said_by(lines[0])
    shuffled = [*lines, *lines[100:500]]
    Random(SEED).shuffle(shuffled)  # noqa: S311 - an order

    for line in shuffled:
        say(f"shop/g1/{name}/reading", line)

    wait_until(lambda: held(shop) == len(lines) - 1, "all events")
    assert shop.take_out(name) == GROWING
    assert shop.query("SELECT count(*) FROM store.waiting") == [(0,)]
    shop.stop(archive)


def test_a_publisher_that_is_killed_fifty_times_loses_and_doubles_nothing(shop, growing, wait_until):
    archive = shop_up(shop, wait_until)
    recording = growing()
    recording.on(1.0, 4.0)
    victim = Path(__file__).with_name("victim.py")
    words = [sys.executable, str(victim), str(recording.path.parent), shop.broker, "50", str(SEED)]

    killed = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)

    wait_for_all(shop, recording, wait_until)
    said, _ = killed.communicate(timeout=60)
    assert (killed.returncode, said) == (0, "")
    shop.stop(archive)


def test_what_is_recorded_while_a_publisher_is_told_to_stop_is_published_too(shop, growing, wait_until):
    recording = growing()
    archive, publisher = begun(shop, recording, wait_until)

    time.sleep(1.5)  # it has said how far the recording reaches, and nothing waits
    publisher.send_signal(signal.SIGSTOP)  # between two looks: it cannot see what is recorded now
    recording.on(0.4, 0.0)
    recording.rest()
    publisher.send_signal(signal.SIGTERM)
    publisher.send_signal(signal.SIGCONT)
    publisher.wait()

    wait_until(lambda: held(shop) == recording.lines, "the last lines, with no publisher any more")
    shop.stop(archive)


def test_two_archives_at_once_store_each_line_once_also_when_one_is_killed(shop, growing, wait_until):
    first, second = shop.archive(name="one"), shop.archive(name="two")
    recording, other = growing(), growing("other.jsonl")
    recording.on(1.0, 4.0)
    other.on(1.0, 4.0)
    publisher = shop.publish(recording.path.parent)
    wait_until(lambda: held(shop) > 200, "some events")
    first.kill()
    first.wait()
    again = shop.archive(name="one")

    wait_until(lambda: held(shop) == recording.lines + other.lines, "both recordings")
    assert shop.take_out("live") == shop.take_out("other") == recording.data
    assert shop.query("SELECT count(*) FROM store.refused") == [(0,)]
    for process in (publisher, second, again):
        said = shop.stop(process)
        assert "database:" not in said, said


def test_tables_of_a_newer_program_are_left_alone_until_they_fit(shop, growing, wait_until):
    recording = growing()
    archive, publisher = begun(shop, recording, wait_until)
    shop.stop(archive)
    with psycopg.connect(shop.database, autocommit=True) as one:
        one.execute(
            "INSERT INTO _yoyo_migration (migration_hash, migration_id, applied_at_utc)"
            " VALUES ('x', '0999.from-the-future', now())"
        )
    before = held(shop)
    archive = shop.archive()
    recording.on(0.9, 0.5)
    wait_until(lambda: "of a newer program" in shop.said(archive), "a word about it")
    recording.rest()
    assert held(shop) == before
    with psycopg.connect(shop.database, autocommit=True) as one:
        one.execute("DELETE FROM _yoyo_migration WHERE migration_id = '0999.from-the-future'")

    wait_for_all(shop, recording, wait_until)
    assert "of a newer program (0999.from-the-future): update this one" in shop.stop(archive)
    shop.stop(publisher)


def test_a_recording_under_another_name_or_forged_lines_never_enter(shop, said_by, growing, wait_until):
    recording = growing()
    archive, publisher = begun(shop, recording, wait_until)
    lines = GROWING.splitlines()
    say, name = said_by(lines[0], stem="live")
    other = (RECORDINGS / "bore.jsonl").read_bytes().splitlines()

    say(f"shop/g1/{name}/header", other[0])
    say(f"shop/g1/{name}/reading", lines[900][:-20] + b'"0123456789ab"}')
    say(f"shop/g1/{name}/reading", b'{"seq":900,"at":[1,1],"source":"daemon","fact":{"kind":"beat"}}')
    say(f"shop/g1/{name}/reading", b"\x00\xff rubbish")
    say(f"shop/g1/{name}/extent", b"[]")

    wait_for_all(shop, recording, wait_until)
    wait_until(lambda: len(shop.query("SELECT 1 FROM store.refused")) >= 2, "refusals")
    said = shop.stop(archive)
    assert "refused" in said
    shop.stop(publisher)
