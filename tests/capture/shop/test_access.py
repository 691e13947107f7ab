"""Who may say what: the server as `setup.sh` makes it, passwords, certificates, and a dishonest machine."""

from __future__ import annotations

import shutil
import signal
import ssl
import subprocess
from pathlib import Path

import paho.mqtt.client as mqtt
import psycopg
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from capture.shop.messages.topics import recording_name

ROOT = Path(__file__).parents[3]
SETUP = ROOT / "capture/shop/setup.sh"
RECORDING = ROOT / "recordings/good.jsonl"
CA = """
[ca]
default_ca = it
[it]
new_certs_dir = {folder}
database = {folder}/index
serial = {folder}/serial
default_md = sha256
policy = any
copy_extensions = copy
[any]
commonName = supplied
"""


class Server:
    """A broker with TLS, users and access list, and a database, as `setup.sh` makes them."""

    def __init__(self, folder, postgres, engine) -> None:
        self.folder, self._engine, self._postgres = folder / "server", engine, postgres
        self.port = engine.free_port()
        self.shop = "shop" + str(self.port)
        self.setup("g1", "g2")
        self.broker = self._begin()
        self.database = f"postgresql://archive@127.0.0.1:{postgres.port}/{self.shop}"

    def setup(self, *machines: str):
        psql = f"psql -h 127.0.0.1 -p {self._postgres.port} -U tester"
        words = ["--folder", self.folder, "--host", "localhost", "--shop", self.shop, "--port", self.port]
        done = subprocess.run(
            ["sh", SETUP, *map(str, words), "--psql", psql, "--no-service", *machines],
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        return done.stdout

    def _begin(self):
        conf = (self.folder / "mosquitto.conf").read_text("utf-8")
        return self._engine.Mosquitto(self.folder, conf.replace("{", "{{").replace("}", "}}"), self.port)

    def url(self, user):
        return f"mqtts://{user}@localhost:{self.port}/{self.shop}"

    def known_to(self, user):
        """The options by which *user* is let in."""
        place = ("--broker", self.url(user), "--ca", str(self.folder / "ca.crt"))
        return (*place, "--password-file", str(self.folder / "passwords" / user))

    def client(self, user):
        """A program that is not ours, let in as *user*."""
        client = mqtt.Client(CallbackAPIVersion.VERSION2, protocol=mqtt.MQTTv5)
        client.tls_set_context(ssl.create_default_context(cafile=str(self.folder / "ca.crt")))
        client.username_pw_set(user, (self.folder / "passwords" / user).read_text().strip())
        client.connect("localhost", self.port)
        return client

    def expire(self):
        """Gives the broker a certificate of its own authority that is past its time."""
        place = self.folder / "expired"
        place.mkdir()
        (place / "ca.conf").write_text(CA.format(folder=place), "utf-8")
        (place / "index").touch()
        (place / "serial").write_text("1000\n", "utf-8")
        self._openssl(
            "req", "-newkey", "rsa:2048", "-nodes", "-subj", "/CN=localhost", "-keyout", "server.key",
            "-addext", "subjectAltName=DNS:localhost", "-out", "expired/csr",
        )  # fmt: skip
        self._openssl(
            "ca", "-batch", "-config", "expired/ca.conf", "-cert", "ca.crt", "-keyfile", "ca.key",
            "-in", "expired/csr", "-startdate", "20200101000000Z", "-enddate", "20210101000000Z",
            "-out", "server.crt", "-notext",
        )  # fmt: skip

    def renew(self):
        (self.folder / "server.crt").unlink()
        self.setup()

    def _openssl(self, *words: str):
        done = subprocess.run(
            ["openssl", *words], cwd=self.folder, capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stderr


@pytest.fixture
def server(tmp_path, postgres, engine):
    if not Path(engine.MOSQUITTO).exists():
        engine.lacking("mosquitto")
    made = Server(tmp_path, postgres, engine)
    yield made
    made.broker.stop()


@pytest.fixture
def safe_shop(tmp_path, server, engine):
    made = engine.Shop(tmp_path, server.url("archive"), server.database)
    yield made
    made.close()


def archive_of(shop, server):
    return shop.start("archive", *server.known_to("archive"), "--database", server.database, "--name", "one")


def test_what_the_script_makes_takes_a_recording_from_a_machine_to_the_database(safe_shop, server, tmp_path):
    shutil.copy(RECORDING, tmp_path / "good.jsonl")
    archive = archive_of(safe_shop, server)

    safe_shop.run("publish", "good.jsonl", *server.known_to("g1"), "--once", "--stored")

    assert safe_shop.take_out("good") == RECORDING.read_bytes()
    assert "--broker " + server.url("g3") in server.setup("g3")
    with psycopg.connect(server.database) as one:
        usage = "has_schema_privilege('reader', 'store', 'usage')"
        rights = "SELECT has_table_privilege('reader', '{}', '{}'), " + usage
        for table in ("readings", "jobs", "store.jobs", "store.lines"):
            assert one.execute(rights.format(table, "select")).fetchone() == (True, True), table
            assert one.execute(rights.format(table, "insert")).fetchone() == (False, True), table
    safe_shop.stop(archive)


def test_a_machine_cannot_say_anything_in_the_name_of_another(safe_shop, server, tmp_path, wait_until):
    archive = archive_of(safe_shop, server)
    shutil.copy(RECORDING, tmp_path / "good.jsonl")
    header, *lines = RECORDING.read_bytes().splitlines()
    hostile, answers = server.client("g2"), []
    hostile.on_publish = lambda _client, _data, _mid, reason, _properties: answers.append(reason.value)
    hostile.loop_start()
    for kind, line in (("header", header), ("reading", lines[0]), ("extent", b"{}"), ("resend", b"{}")):
        hostile.publish(f"{server.shop}/g1/{recording_name('good', header)}/{kind}", line, qos=1)
    hostile.publish(f"{server.shop}/g2/{recording_name('own', header)}/header", header, qos=1)

    wait_until(lambda: len(answers) == 5, "the broker's answers")
    hostile.disconnect()
    hostile.loop_stop()

    assert answers[:4] == [0x87] * 4  # OASIS MQTT 5.0, 3.4.2.1: not authorized
    assert answers[4] < 0x80
    safe_shop.run("publish", "good.jsonl", *server.known_to("g1"), "--once", "--stored")
    assert safe_shop.take_out("good") == RECORDING.read_bytes()
    assert {machine for machine, name in safe_shop.stored() if name.startswith("good")} == {"g1"}
    safe_shop.stop(archive)


def test_a_publisher_under_a_name_that_is_not_its_users_is_told(safe_shop, server, tmp_path, wait_until):
    shutil.copy(RECORDING, tmp_path / "good.jsonl")

    publisher = safe_shop.start("publish", "good.jsonl", *server.known_to("g2"), "--machine", "g1")

    wait_until(lambda: "look at the broker's access list" in safe_shop.said(publisher), "a word about it")
    safe_shop.stop(publisher)


def test_a_wrong_password_is_said_and_the_right_one_delivers_all(safe_shop, server, tmp_path, wait_until):
    shutil.copy(RECORDING, tmp_path / "good.jsonl")
    archive = archive_of(safe_shop, server)
    (tmp_path / "wrong").write_text("not this\n", "utf-8")
    words = ("--broker", server.url("g1"), "--ca", str(server.folder / "ca.crt"), "--password-file", "wrong")
    publisher = safe_shop.start("publish", "good.jsonl", *words, "--once", "--stored")
    wait_until(lambda: "the user or the password is wrong" in safe_shop.said(publisher), "a word about it")

    (server.folder / "passwords/g1").write_text("not this\n", "utf-8")
    server.setup()
    server.broker.process.send_signal(signal.SIGHUP)

    assert publisher.wait(40) == 0
    assert safe_shop.take_out("good") == RECORDING.read_bytes()
    safe_shop.stop(archive)


def test_a_password_that_is_put_right_in_its_file_needs_no_new_start(safe_shop, server, tmp_path, wait_until):
    shutil.copy(RECORDING, tmp_path / "good.jsonl")
    (tmp_path / "mended").write_text("not this\n", "utf-8")
    words = ("--broker", server.url("g1"), "--ca", str(server.folder / "ca.crt"), "--password-file", "mended")
    publisher = safe_shop.start("publish", "good.jsonl", *words, "--once")
    wait_until(lambda: "the user or the password is wrong" in safe_shop.said(publisher), "a word about it")

    shutil.copy(server.folder / "passwords/g1", tmp_path / "mended")

    assert publisher.wait(40) == 0
    assert "connected again" in safe_shop.said(publisher)


def test_a_certificate_that_nobody_known_signed_asks_for_who_did(safe_shop, server, tmp_path, wait_until):
    shutil.copy(RECORDING, tmp_path / "good.jsonl")
    words = ("--broker", server.url("g1"), "--password-file", str(server.folder / "passwords/g1"))
    publisher = safe_shop.start("publish", "good.jsonl", *words)

    wait_until(lambda: "due the certificate of who signed it" in safe_shop.said(publisher), "a word about it")

    safe_shop.stop(publisher)


def test_a_broker_asked_without_tls_where_tls_is_due_is_named(safe_shop, server, tmp_path, wait_until):
    shutil.copy(RECORDING, tmp_path / "good.jsonl")
    plain = server.url("g1").replace("mqtts://", "mqtt://")
    publisher = safe_shop.start("publish", "good.jsonl", "--broker", plain)

    wait_until(lambda: "perhaps TLS is due there" in safe_shop.said(publisher), "a word about it")

    safe_shop.stop(publisher)


def test_an_expired_certificate_is_said_and_a_new_one_delivers_all(safe_shop, server, tmp_path, wait_until):
    shutil.copy(RECORDING, tmp_path / "good.jsonl")
    server.broker.stop()
    server.expire()
    server.broker.start()
    publisher = safe_shop.start("publish", "good.jsonl", *server.known_to("g1"), "--once", "--stored")
    archive = archive_of(safe_shop, server)
    for process in (publisher, archive):
        wait_until(
            lambda process=process: "certificate has expired" in safe_shop.said(process), "a word about it"
        )

    server.broker.stop()
    server.renew()
    server.broker.start()

    assert publisher.wait(40) == 0
    assert safe_shop.take_out("good") == RECORDING.read_bytes()
    safe_shop.stop(archive)


def test_who_only_reads_the_database_is_no_user_of_the_broker_after_a_second_run(server):
    server.setup("g1", "g3")

    users = {line.split(":")[0] for line in (server.folder / "users").read_text("utf-8").splitlines()}

    assert users == {"archive", "screen", "g1", "g2", "g3"}
    assert (server.folder / "passwords" / "database-reader").exists()
