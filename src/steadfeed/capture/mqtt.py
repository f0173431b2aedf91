"""Readings over MQTT 3.1.1 or 5, in the message of http_ingest.py.

MQTT's own delivery (QoS 1) only reaches from one hop to the next: a broker that dies can lose what it had taken over.
So a gateway keeps its readings until they are acknowledged on a topic beside: TOPIC/acknowledged of the topic
TOPIC/readings, after the commit, by the numbers that are safe. On this side the broker is told that a message arrived
only after the commit too, so a recorder that dies gets the message again from a broker that lives.
"""

from __future__ import annotations

import contextlib
import json
import time
from collections.abc import AsyncGenerator, Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, ClassVar, Final, cast

from steadfeed.capture.http_ingest import decode_message
from steadfeed.capture.numbers_kept import Ranges
from steadfeed.capture.source import Batch, Kept, Refused, Retry, Source
from steadfeed.circuit.equipment import PressureReference
from steadfeed.errors import FixInput, InstallPart, NotAllowed, TryAgain

if TYPE_CHECKING:
    import ssl

    import aiomqtt

_READINGS: Final = "/readings"
_ACKNOWLEDGED: Final = "/acknowledged"
#: The broker holds our messages so long while we are away [s].
_SESSION: Final = 86400
#: Answers of a broker that only a person can change (MQTT 3.1.1, 3.2.2.3, and 5, 3.2.2.2).
_REFUSALS: Final = frozenset({4, 5, 134, 135})


@dataclass(slots=True)
class _Open:
    """A message that is not safe as a whole. left: its numbers that are not; topic: where it came from."""

    mid: int
    qos: int
    left: set[tuple[tuple[str, str], int]]


@dataclass(frozen=True, slots=True)
class _Link:
    """One connection: its client, and what came through it and is not safe."""

    client: aiomqtt.Client
    open: list[_Open] = field(default_factory=list)
    topics: dict[tuple[str, str], str] = field(default_factory=dict)


class MqttSource(Source):
    """Subscribes to the readings of gateways at a broker.

    host, port: of the broker. topic: ends in /readings; "+" stands for any one level. version: 3 or 5. client_id: stable,
    so that the broker knows us again; two recorders need two. username, password, tls: as the broker wants.
    """

    kind: ClassVar[str] = "mqtt"

    def __init__(
        self,
        name: str,
        host: str,
        *,
        port: int = 1883,
        topic: str = "steadfeed/+/readings",
        version: int = 5,
        client_id: str | None = None,
        username: str | None = None,
        password: str | None = None,
        tls: ssl.SSLContext | None = None,
        reference: PressureReference = "unknown",
        silent_after: float = 10.0,
        retry: Retry | None = None,
        clock: Callable[[], float] = time.time,
    ) -> None:
        super().__init__(name, silent_after=silent_after, retry=retry, clock=clock)
        if not topic.endswith(_READINGS) or "#" in topic:
            raise FixInput(f"The topic must end in {_READINGS}, as in steadfeed/+{_READINGS}", where="topic")
        if version not in (3, 5):
            raise FixInput("The version of MQTT is 3 (for 3.1.1) or 5", code="bad source", where="version")
        if not 0 < port < 65536:
            raise FixInput(f"A port lies between 1 and 65535; {port} does not", code="bad source", where="port")
        self.world_errors = (*Source.world_errors, _library().MqttError)
        self.host, self.port, self.topic, self.version = host, port, topic, version
        self.client_id = client_id or f"steadfeed-{name}"
        self._username, self._password, self._tls = username, password, tls
        self._reference = reference
        self._link: _Link | None = None

    def _client(self) -> aiomqtt.Client:
        library = _library()
        options: dict[str, Any] = {"clean_session": False}
        if self.version == 5:
            from paho.mqtt.packettypes import PacketTypes
            from paho.mqtt.properties import Properties

            properties: Any = cast(Any, Properties)(PacketTypes.CONNECT)
            properties.SessionExpiryInterval = _SESSION
            options = {"clean_start": False, "properties": properties}
        client: aiomqtt.Client = library.Client(
            self.host,
            self.port,
            identifier=self.client_id,
            protocol=library.ProtocolVersion.V5 if self.version == 5 else library.ProtocolVersion.V311,
            username=self._username,
            password=self._password,
            tls_context=self._tls,
            timeout=5.0,
            keepalive=10,
            **options,
        )
        # aiomqtt has no way of its own to say "arrived" later; the client underneath has.
        _under(client).manual_ack_set(True)
        return client

    async def session(self) -> AsyncGenerator[Batch | Refused, None]:
        """Take messages until the connection breaks."""
        try:
            async with self._client() as client:
                link = self._link = _Link(client)
                await client.subscribe(self.topic, qos=1)
                self.why = ""
                async for message in client.messages:
                    for item in await self._message(link, message):
                        yield item
        except _library().MqttCodeError as error:
            raise _refusal(error, self.host) from error
        finally:
            self._link = None

    async def _message(self, link: _Link, message: aiomqtt.Message) -> Sequence[Batch | Refused]:
        """Decode a message; answer at once what no commit has to be waited for."""
        topic = str(message.topic)
        payload = message.payload if isinstance(message.payload, bytes | str) else b""
        try:
            found = decode_message(payload, self._reference)
        except FixInput as error:
            _arrived(link.client, message.mid, message.qos)
            said = json.dumps({"error": error.code, "message": error.message, "kept": []}, ensure_ascii=False)
            await self._publish(link, topic, said.encode())
            return [Refused(self.name, "", f"{topic}: {error.message}")]
        out: list[Batch | Refused] = [refused for _, refused in found.refused]
        if found.refused:
            numbers = Ranges((n, n) for n, _ in found.refused)
            why = [refused.text for _, refused in found.refused]
            await self._publish(link, topic, _answer(found.source, found.boot_id, numbers, why))
        if found.readings:
            link.topics[found.source, found.boot_id] = topic
            left = {((r.source, r.boot_id), r.sequence) for r in found.readings}
            link.open.append(_Open(message.mid, message.qos, left))
            out.append(found.readings)
        else:
            _arrived(link.client, message.mid, message.qos)
        return out

    async def acknowledge(self, kept: Sequence[Kept]) -> None:
        """Tell gateways which numbers are safe, and the broker which messages arrived."""
        link = self._link
        if link is None:
            return  # the link broke meanwhile: gateway and broker send again
        safe: dict[tuple[str, str], Ranges] = {}
        for numbers in kept:
            safe.setdefault((numbers.source, numbers.boot_id), Ranges()).add(numbers.first, numbers.last)
        for life, ranges in safe.items():
            topic = link.topics.get(life)
            if topic is not None:
                await self._publish(link, topic, _answer(*life, ranges, []))
        for message in link.open:
            message.left = {(life, n) for life, n in message.left if life not in safe or n not in safe[life]}
            if not message.left:
                _arrived(link.client, message.mid, message.qos)
        link.open[:] = [message for message in link.open if message.left]

    async def _publish(self, link: _Link, topic: str, payload: bytes) -> None:
        with contextlib.suppress(*self.world_errors):  # unheard answers are asked for again by sending again
            await link.client.publish(topic.removesuffix(_READINGS) + _ACKNOWLEDGED, payload, timeout=5.0)


def _answer(source: str, boot_id: str, numbers: Ranges, refused: Sequence[str]) -> bytes:
    """Write what goes to TOPIC/acknowledged."""
    kept = [[first, last] for first, last in numbers]
    said: dict[str, Any] = {"source": source, "boot_id": boot_id, "kept": kept}
    if refused:
        said["refused"] = list(refused)
    return json.dumps(said, ensure_ascii=False).encode()


def _arrived(client: aiomqtt.Client, mid: int, qos: int) -> None:
    """Tell the broker that a message arrived."""
    _under(client).ack(mid, qos)


def _under(client: aiomqtt.Client) -> Any:
    return client._client


def _refusal(error: aiomqtt.MqttCodeError, host: str) -> Exception:
    """Return the error that a refused connection means: a person's to mend, or the world's."""
    code = getattr(error.rc, "value", error.rc)
    if code in _REFUSALS:
        return NotAllowed(f"The broker at {host} refuses this user or password", code="broker refused")
    return TryAgain(f"The broker at {host} ended the connection ({error})", code="broker gone")


def _library() -> Any:
    try:
        import aiomqtt
    except ModuleNotFoundError as error:
        raise InstallPart(
            "Readings over MQTT need the part “instruments”; install steadfeed[instruments]", code="part missing"
        ) from error
    return aiomqtt
