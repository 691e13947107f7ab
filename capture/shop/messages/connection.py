"""One connection to the broker, in the caller's own thread: MQTT 5, QoS 1, made again with growing waits."""

from __future__ import annotations

import random
import select
import ssl
import time
from collections.abc import Callable, Sequence
from typing import Any, Final

import paho.mqtt.client as mqtt
from msgspec import Struct
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode
from paho.mqtt.subscribeoptions import SubscribeOptions

from capture.shop.messages.broker import Broker
from capture.shop.messages.troubles import (
    ENDED,
    ENDED_EARLY,
    NOT_AUTHORIZED,
    REFUSED,
    TAKEN_OVER,
    WRONG_PASSWORD,
    not_connected,
)

KEEPALIVE: Final = 30
"""Seconds without a word after which one end asks whether the other is there."""
PATIENCE: Final = 10.0
"""Seconds for a connection to be made, and for the broker to say that it is."""
FIRST_WAIT: Final = 0.5
LONGEST_WAIT: Final = 60.0
STEADY: Final = 10.0
"""Seconds that a connection must stand before the next wait is short again."""
SHORT_LIVED: Final = 3
"""Connections in a row that end within `STEADY` seconds, without a reason, from which on a second program of
the same name is the likely cause: not every broker sends the reason code for that (common practice)."""


class Will(Struct, frozen=True):
    """What the broker says for us when we are gone, and where."""

    topic: str
    payload: bytes


class BrokerMessage(Struct, frozen=True, gc=False):
    """What came from the broker; `mid` acknowledges it."""

    topic: str
    payload: bytes
    mid: int
    qos: int
    turn: int
    """The connection that it came by: another cannot acknowledge it."""


class Wait:
    """Growing waits between tries, with some chance in them so that many do not come back at once."""

    def __init__(self, first: float = FIRST_WAIT, longest: float = LONGEST_WAIT) -> None:
        self._first, self._longest, self._next = first, longest, first
        self.until = 0.0

    def failed(self, now: float) -> float:
        """Seconds to wait after one more failure."""
        wait = self._next * random.uniform(0.7, 1.3)  # noqa: S311 - no secret
        self._next = min(self._next * 2.0, self._longest)
        self.until = now + wait
        return wait

    def reset(self) -> None:
        """The next wait is short again."""
        self._next, self.until = self._first, 0.0


class Connection:
    """Connected as far as can be: `work` does one turn, and everything happens in it."""

    def __init__(
        self,
        broker: Broker,
        client: str,
        say: Callable[[str], None],
        *,
        subscribe: Sequence[str] = (),
        will: Will | None = None,
        expiry: int,
        receive: int = 100,
    ) -> None:
        """A connection, not made yet.

        Args:
            broker: Where.
            client: Its name there: the session of this name is taken up again.
            say: Hears sentences for a person; each trouble once.
            subscribe: Topics, at QoS 1.
            will: What the broker publishes when this connection is lost.
            expiry: Seconds that the broker keeps the session while we are away.
            receive: Messages that may be sent to us before the first is acknowledged.
        """
        self.broker, self.up, self.turn = broker, False, 0
        self.window = receive
        """Messages of ours that may wait for their acknowledgement."""
        self.messages: list[BrokerMessage] = []
        self.acknowledged: list[int] = []
        """BrokerMessage numbers that the broker has taken since they were last looked at."""
        self.refused: list[int] = []
        self._name, self._say, self._subscribe, self._will = client, say, subscribe, will
        self._expiry, self._receive = expiry, receive
        self._client: mqtt.Client | None = None
        self._wait = Wait()
        self._since = 0.0
        self._trouble = ""
        self._away = False
        self._short_lived = 0

    @property
    def settled(self) -> bool:
        """Whether no connection is being made: it stands and has sent its subscriptions, or there is none."""
        return self._client is None or (self.up and not self._client.want_write())

    def work(self, timeout: float) -> None:
        """One turn: connects where it is due, and reads and writes for at most *timeout* seconds."""
        now = time.monotonic()
        if self._away:
            time.sleep(timeout)
        elif self._client is None:
            if now >= self._wait.until:
                self._connect()
            else:
                time.sleep(min(timeout, self._wait.until - now))
        elif not self.up and now - self._since > PATIENCE:
            self._lost(f"the broker has not answered for {PATIENCE:g} s")
        else:
            if self.up and now - self._since > STEADY:
                self._wait.reset()
            self._turn(self._client, timeout)

    def stay_away(self, away: bool) -> None:
        """Leaves the broker, which keeps what comes, or goes to it again."""
        if away and not self._away:
            self.close()
        self._away = away

    def _turn(self, client: mqtt.Client, timeout: float) -> None:
        socket = client.socket()
        if socket is None:
            self._lost(ENDED)
            return
        pending = isinstance(socket, ssl.SSLSocket) and socket.pending() > 0
        try:
            ready, writable, _ = select.select(
                [socket], [socket] if client.want_write() else [], [], 0.0 if pending else timeout
            )
        except (OSError, ValueError):
            self._lost(ENDED)
            return
        status = MQTTErrorCode.MQTT_ERR_SUCCESS
        if ready or pending:
            status = self._read(client)
        if writable and not status:
            status = client.loop_write()
        status = status or client.loop_misc()
        if status and self._client is client:
            self._lost(mqtt.error_string(status).rstrip("."))

    def _read(self, client: mqtt.Client) -> MQTTErrorCode:
        """Reads what is there, up to as many messages as may wait: the rest stays with the broker."""
        status = MQTTErrorCode.MQTT_ERR_SUCCESS
        while len(self.messages) < self._receive:
            before = len(self.messages) + len(self.acknowledged) + len(self.refused)
            status = client.loop_read()
            if status or before == len(self.messages) + len(self.acknowledged) + len(self.refused):
                break
        return status

    def publish(self, topic: str, payload: bytes, *, retain: bool = False, expiry: int = 0) -> int | None:
        """Sends a message at QoS 1; its number, acknowledged later, or None where we are not connected."""
        if self._client is None or not self.up:
            return None
        properties = None
        if expiry:
            properties = _properties(PacketTypes.PUBLISH, MessageExpiryInterval=expiry)
        done = self._client.publish(topic, payload, qos=1, retain=retain, properties=properties)
        return done.mid if done.rc in {MQTTErrorCode.MQTT_ERR_SUCCESS, MQTTErrorCode.MQTT_ERR_AGAIN} else None

    def acknowledge(self, message: BrokerMessage) -> None:
        """Tells the broker that *message* need not come again."""
        if self._client is not None and self.up and message.turn == self.turn:
            self._client.ack(message.mid, message.qos)

    def close(self, last: Will | None = None) -> None:
        """Ends the connection in order; *last* is published before, in place of the will."""
        if self._client is not None and self.up and last is not None:
            self._client.publish(last.topic, last.payload, qos=1, retain=True)
            end = time.monotonic() + 2.0
            while self._client is not None and self._client.want_write() and time.monotonic() < end:
                self.work(0.05)
        client, self._client, self.up = self._client, None, False
        if client is not None:
            client.disconnect()

    def _connect(self) -> None:
        client = self._made()
        self._client, self._since, self.up = client, time.monotonic(), False
        properties = _properties(
            PacketTypes.CONNECT, SessionExpiryInterval=self._expiry, ReceiveMaximum=self._receive
        )
        try:
            client.connect(
                self.broker.host,
                self.broker.port,
                KEEPALIVE,
                clean_start=False,
                properties=properties,
            )
        except (OSError, ValueError) as error:
            self._lost(not_connected(error, secure=self.broker.tls is not None))

    def _made(self) -> mqtt.Client:
        client = mqtt.Client(
            CallbackAPIVersion.VERSION2,
            client_id=self._name,
            protocol=MQTTProtocolVersion.MQTTv5,
            manual_ack=True,
            reconnect_on_failure=False,
        )
        client.connect_timeout = PATIENCE
        # what waits is bounded by who publishes, by the broker's own limit
        client.max_inflight_messages_set(0)
        if self.broker.user:
            client.username_pw_set(self.broker.user, self.broker.current_password() or None)
        if self.broker.tls is not None:
            client.tls_set_context(self.broker.tls)
        if self._will is not None:
            client.will_set(self._will.topic, self._will.payload, qos=1, retain=True)
        client.on_connect = self._connected
        client.on_disconnect = self._disconnected
        client.on_message = self._came
        client.on_publish = self._taken
        return client

    def _connected(
        self, client: mqtt.Client, _data: Any, _flags: Any, reason: ReasonCode, properties: Properties | None
    ) -> None:
        if client is not self._client:
            return
        if reason.is_failure:
            # some brokers answer a wrong password with the code of a user who may not
            code = WRONG_PASSWORD if reason.value == NOT_AUTHORIZED else reason.value
            self._lost(REFUSED.get(code, str(reason)))
            return
        self.window = min(self._receive, getattr(properties, "ReceiveMaximum", 65535))
        self.up, self._since = True, time.monotonic()
        self.turn += 1
        self.messages.clear()
        self.acknowledged.clear()
        self.refused.clear()
        if self._subscribe:
            options = SubscribeOptions(qos=1)
            client.subscribe([(topic, options) for topic in self._subscribe])
        if self._trouble:
            self._trouble = ""
            self._say(f"broker {self.broker.place}: connected again")

    def _disconnected(
        self, client: mqtt.Client, _data: Any, _flags: Any, reason: ReasonCode, _properties: Any
    ) -> None:
        if client is self._client:
            self._lost(REFUSED.get(reason.value, str(reason)))

    def _came(self, client: mqtt.Client, _data: Any, message: mqtt.MQTTMessage) -> None:
        if client is self._client:
            payload = bytes(message.payload)
            self.messages.append(BrokerMessage(message.topic, payload, message.mid, message.qos, self.turn))

    def _taken(self, client: mqtt.Client, _data: Any, mid: int, reason: ReasonCode, _properties: Any) -> None:
        if client is not self._client:
            return
        if reason.is_failure:
            self.refused.append(mid)
            self.trouble(REFUSED.get(reason.value, str(reason)))
        else:
            self.acknowledged.append(mid)

    def trouble(self, why: str) -> None:
        """Says a trouble with the broker, once until there is another or none."""
        if why != self._trouble:
            self._trouble = why
            self._say(f"broker {self.broker.place}: {why}; trying again")

    def _lost(self, why: str) -> None:
        """Lets go of the connection; the next one is made after a wait."""
        if self.up:
            short = why == ENDED and time.monotonic() - self._since < STEADY
            self._short_lived = self._short_lived + 1 if short else 0
            if self._short_lived >= SHORT_LIVED:
                why = f"{ENDED} soon, again and again: perhaps {REFUSED[TAKEN_OVER]}"
        elif why == ENDED and self.broker.tls is None:
            why = ENDED_EARLY
        client, self._client, self.up = self._client, None, False
        self._wait.failed(time.monotonic())
        self.trouble(why)
        if client is not None and (socket := client.socket()) is not None:
            client.on_disconnect = None
            socket.close()


def _properties(packet: int, **values: int) -> Properties:
    made = Properties(packet)  # type: ignore[no-untyped-call]  # paho has not annotated it
    for name, value in values.items():
        setattr(made, name, value)
    return made
