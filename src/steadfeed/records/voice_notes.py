"""Voice notes without what their recorder wrote beside the speech: place, title, device, pictures.

Nothing is decoded. Whatever is not speech is blanked in place, so that no offset moves; what cannot be understood to the
end is refused, because it cannot be said to be clean. WAV: RIFF chunks. MPEG-4: ISO/IEC 14496-12. Ogg: RFC 3533, with
Opus (RFC 7845), Vorbis, Speex and FLAC. WebM: EBML (RFC 8794) and Matroska (RFC 9559).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final

from steadfeed.errors import FixInput

#: A voice note as received may not be larger than this [bytes]: about five minutes of speech.
LARGEST: Final = 2_000_000


def clean(received: bytes) -> tuple[bytes, str]:
    """Return a voice note with only its speech, and its media type.

    Raises FixInput for another kind, a broken file or above 2 MB.
    """
    if len(received) > LARGEST:
        raise FixInput(
            f"This voice note has {len(received) / 1e6:.1f} MB; 2 MB is the limit", code="voice note too large"
        )
    if received[:4] == b"RIFF" and received[8:12] == b"WAVE":
        return _clean_wav(received), "audio/wav"
    if received[:4] == b"OggS":
        return _clean_ogg(received), "audio/ogg"
    if received[:4] == _EBML:
        return _clean_webm(received), "audio/webm"
    if received[4:8] == b"ftyp":
        return _clean_mp4(received), "audio/mp4"
    raise FixInput("This is no voice note that is known; WAV, Ogg, WebM or MPEG-4 is", code="no voice note")


def _broken(kind: str) -> FixInput:
    return FixInput(
        f"This {kind} voice note cannot be read to its end, so nobody can say that it tells no place; record it again",
        code="voice note broken",
    )


# -- WAV ----------------------------------------------------------------------------------------------------------------
def _clean_wav(received: bytes) -> bytes:
    """Keep the format and the samples only (chunks “fmt ”, “fact” and “data”)."""
    kept, at = b"", 12
    while at + 8 <= len(received):
        name, size = received[at : at + 4], int.from_bytes(received[at + 4 : at + 8], "little")
        if name in (b"fmt ", b"fact", b"data"):
            kept += received[at : at + 8 + size + size % 2]
        at += 8 + size + size % 2
    return b"RIFF" + (4 + len(kept)).to_bytes(4, "little") + b"WAVE" + kept


# -- MPEG-4 -------------------------------------------------------------------------------------------------------------
def _clean_mp4(received: bytes) -> bytes:
    """Turn user data and metadata boxes into free space of the same size."""
    out = bytearray(received)

    def walk(start: int, end: int) -> None:
        at = start
        while at + 8 <= end:
            size = int.from_bytes(out[at : at + 4], "big")
            head = 8
            if size == 1:
                size, head = int.from_bytes(out[at + 8 : at + 16], "big"), 16
            elif size == 0:
                size = end - at
            name = bytes(out[at + 4 : at + 8])
            if name == b"mdat" and at + size > end == len(out):
                size = end - at  # a recorder that was stopped
            if size < head or at + size > end:
                raise _broken("MPEG-4")
            if name in (b"udta", b"meta", b"uuid", b"free", b"skip"):
                out[at + 4 : at + 8] = b"free"
                out[at + head : at + size] = bytes(size - head)
            elif name in (b"moov", b"trak", b"mdia", b"moof", b"traf"):
                walk(at + head, at + size)
            at += size
        out[at:end] = bytes(end - at)

    walk(0, len(out))
    return bytes(out)


# -- Ogg ----------------------------------------------------------------------------------------------------------------
def _crc_table() -> tuple[int, ...]:
    """RFC 3533, section 6: polynomial 0x04c11db7, unreflected, from zero."""
    out = []
    for byte in range(256):
        value = byte << 24
        for _ in range(8):
            value = (value << 1) ^ (0x04C11DB7 if value & 0x80000000 else 0)
        out.append(value & 0xFFFFFFFF)
    return tuple(out)


_CRC: Final = _crc_table()


def _checksum(page: bytes | bytearray) -> int:
    value = 0
    for byte in page:
        value = ((value << 8) & 0xFFFFFFFF) ^ _CRC[(value >> 24) ^ byte]
    return value


@dataclass(slots=True)
class _Stream:
    """A logical stream: its codec, how many packets came, and where the bytes of the open packet lie in the file."""

    codec: str = ""
    packets: int = 0
    open: list[tuple[int, int]] = field(default_factory=list)
    headers_done: bool = False


def _clean_ogg(received: bytes) -> bytes:
    """Blank the comment packets of every stream; only whole pages are kept.

    A comment becomes an empty list behind a vendor of blanks, of the same length, so that no other page changes.
    """
    out = bytearray()
    streams: dict[bytes, _Stream] = {}
    touched: set[int] = set()
    pages: list[tuple[int, int]] = []
    at = 0
    while at + 27 <= len(received) and received[at : at + 4] == b"OggS":
        segments = received[at + 27 : at + 27 + received[at + 26]]
        end = at + 27 + len(segments) + sum(segments)
        if len(segments) < received[at + 26] or end > len(received):
            break  # the last page is cut off: a recorder that was stopped
        start = len(out)
        out += received[at:end]
        pages.append((start, len(out)))
        serial = received[at + 14 : at + 18]
        if received[at + 5] & 0x02 or serial not in streams:
            if serial in streams and not streams[serial].headers_done:
                raise _broken("Ogg")
            streams[serial] = _Stream()
        _read_page(out, start, bytes(segments), streams[serial], touched)
        at = end
    if not pages or not streams or any(not s.headers_done for s in streams.values()):
        raise _broken("Ogg")
    for start, end in pages:
        if touched.intersection(range(start, end)):
            out[start + 22 : start + 26] = bytes(4)
            out[start + 22 : start + 26] = _checksum(out[start:end]).to_bytes(4, "little")
    return bytes(out)


def _read_page(out: bytearray, start: int, segments: bytes, stream: _Stream, touched: set[int]) -> None:
    at = start + 27 + len(segments)
    for length in segments:
        if not stream.headers_done:
            stream.open.append((at, at + length))
        at += length
        if length < 255 and not stream.headers_done:
            _read_header(out, stream, touched)
            stream.packets += 1
            stream.open.clear()


_CODECS: Final = {b"OpusHead": "opus", b"\x01vorbis": "vorbis", b"Speex   ": "speex", b"\x7fFLAC": "flac"}


def _read_header(out: bytearray, stream: _Stream, touched: set[int]) -> None:
    """Take one header packet of a stream; blank it when it is a comment."""
    packet = b"".join(bytes(out[a:b]) for a, b in stream.open)
    if stream.packets == 0:
        stream.codec = next((name for magic, name in _CODECS.items() if packet.startswith(magic)), "")
        if not stream.codec:
            raise FixInput(
                "This Ogg file holds something else than speech; Opus, Vorbis, Speex or FLAC is known",
                code="no voice note",
            )
        return
    blank = packet
    if stream.codec == "flac":
        if not packet:
            raise _broken("Ogg")
        kind = packet[0] & 0x7F
        if kind == 4:
            blank = packet[:4] + _no_comment(len(packet) - 4)
        elif kind != 3:  # 3: seek points; a picture, a cue sheet or a program's own block becomes padding
            blank = bytes([(packet[0] & 0x80) | 1]) + packet[1:4] + bytes(max(0, len(packet) - 4))
        stream.headers_done = bool(packet[0] & 0x80)
    else:
        head, tail = {"opus": (b"OpusTags", b""), "vorbis": (b"\x03vorbis", b"\x01"), "speex": (b"", b"")}[stream.codec]
        if not packet.startswith(head) or len(packet) < len(head) + 8 + len(tail):
            raise _broken("Ogg")
        blank = head + _no_comment(len(packet) - len(head) - len(tail)) + tail
        stream.headers_done = True
    if blank == packet:
        return
    done = 0
    for a, b in stream.open:
        out[a:b] = blank[done : done + b - a]
        done += b - a
        if b > a:
            touched.add(a)


def _no_comment(size: int) -> bytes:
    """An empty list of comments that fills `size` bytes: the vendor takes them."""
    if size < 8:
        raise _broken("Ogg")
    return (size - 8).to_bytes(4, "little") + b" " * (size - 8) + bytes(4)


# -- WebM ---------------------------------------------------------------------------------------------------------------
_EBML: Final = b"\x1a\x45\xdf\xa3"
_SEGMENT, _INFO, _TRACKS, _TRACK, _AUDIO = 0x18538067, 0x1549A966, 0x1654AE6B, 0xAE, 0xE1
_CLUSTER, _GROUP, _CUES, _SEEK_HEAD = 0x1F43B675, 0xA0, 0x1C53BB6B, 0x114D9B74
_TAGS, _ATTACHMENTS, _CHAPTERS = 0x1254C367, 0x1941A469, 0x1043A770
_TOP: Final = frozenset((_INFO, _TRACKS, _CLUSTER, _CUES, _SEEK_HEAD, _TAGS, _ATTACHMENTS, _CHAPTERS))
_MUXING_APP, _WRITING_APP, _CODEC_ID, _CODEC_PRIVATE = 0x4D80, 0x5741, 0x86, 0x63A2
#: What may stay in each master: time scale and duration; number, identity, type, language, codec, sizes and sound of a
#: track; times and blocks of a cluster. Everything else becomes void.
_MAY_STAY: Final = {
    _SEGMENT: frozenset((_INFO, _TRACKS, _CLUSTER, _CUES)),
    _INFO: frozenset((0x2AD7B1, 0x4489, _MUXING_APP, _WRITING_APP)),
    _TRACKS: frozenset((_TRACK,)),
    _TRACK: frozenset(
        (
            0xD7, 0x73C5, 0x83, 0xB9, 0x88, 0x55AA, 0x9C, 0x6DE7, 0x6DF8, 0x23E383, 0x55EE, 0x22B59C, _CODEC_ID,
            _CODEC_PRIVATE, 0x56AA, 0x56BB, _AUDIO,
        )
    ),
    _AUDIO: frozenset((0xB5, 0x78B5, 0x9F, 0x6264)),
    _CLUSTER: frozenset((0xE7, 0xA7, 0xAB, 0xA3, _GROUP)),
    _GROUP: frozenset((0xA1, 0x9B, 0xFB, 0x75A2)),
}  # fmt: skip


def _variable(data: bytes | bytearray, at: int, end: int, keep_marker: bool) -> tuple[int, int]:
    """Read a number of variable length (RFC 8794, section 4). Return it and its length [bytes]."""
    if at >= end or not data[at]:
        raise _broken("WebM")
    length = 9 - data[at].bit_length()
    if at + length > end:
        raise _broken("WebM")
    value = int.from_bytes(data[at : at + length], "big")
    return (value if keep_marker else value & ((1 << 7 * length) - 1)), length


def _elements(data: bytes | bytearray, start: int, end: int) -> Iterator[tuple[int, int, int, int, bool]]:
    """Walk over elements. Yields id, where it, its content and its end lie, and whether its size is unknown."""
    at = start
    while at < end:
        name, a = _variable(data, at, end, keep_marker=True)
        size, b = _variable(data, at + a, end, keep_marker=False)
        content = at + a + b
        unknown = size == (1 << 7 * b) - 1
        if unknown:
            stop = end if name == _SEGMENT else _end_of_cluster(data, content, end) if name == _CLUSTER else -1
        else:
            stop = content + size
        if stop > end and name == _CLUSTER:
            stop = end  # a recorder that was stopped within its last cluster
        if stop < content or stop > end:
            raise _broken("WebM")
        yield name, at, content, stop, unknown
        at = stop


def _end_of_cluster(data: bytes | bytearray, at: int, end: int) -> int:
    """A cluster of unknown size ends where an element begins that cannot be in it."""
    while at < end:
        name, a = _variable(data, at, end, keep_marker=True)
        if name in _TOP or name == int.from_bytes(_EBML, "big"):
            return at
        size, b = _variable(data, at + a, end, keep_marker=False)
        if at + a + b + size > end:
            return end
        at += a + b + size
    return end


def _clean_webm(received: bytes) -> bytes:
    """Turn everything but sound and its description into void elements of the same size."""
    out = bytearray(received)
    seen = set()
    for name, at, content, stop, _ in _elements(received, 0, len(received)):
        if name == _SEGMENT:
            seen |= _clean_master(out, _SEGMENT, content, stop)
        elif name != int.from_bytes(_EBML, "big"):
            _void(out, at, stop)
    if _TRACK not in seen:
        raise _broken("WebM")
    return bytes(out)


def _clean_master(out: bytearray, master: int, start: int, end: int) -> set[int]:
    """Clean what is in a master element; return the ids that stayed."""
    seen = set()
    codec = b""
    cut = end
    children = _elements(out, start, end)
    while True:
        try:
            name, at, content, stop, _ = next(children)
        except StopIteration:
            break
        except FixInput:
            if master != _CLUSTER:
                raise
            _blank_rest(out, cut, end)  # the last block is cut off: it holds nothing that can be played
            break
        cut = stop
        if name not in _MAY_STAY[master]:
            _void(out, at, stop)
            continue
        seen.add(name)
        if name in _MAY_STAY:
            seen |= _clean_master(out, name, content, stop)
        elif name in (_MUXING_APP, _WRITING_APP):
            out[content:stop] = b" " * (stop - content)
        elif name == _CODEC_ID:
            codec = bytes(out[content:stop])
        elif name == _CODEC_PRIVATE and (codec or _codec_in(out, start, end)) == b"A_VORBIS":
            _clean_vorbis_setup(out, content, stop)
    return seen


def _codec_in(out: bytearray, start: int, end: int) -> bytes:
    return next((bytes(out[c:s]) for name, _, c, s, _ in _elements(out, start, end) if name == _CODEC_ID), b"")


def _blank_rest(out: bytearray, start: int, end: int) -> None:
    out[start:end] = bytes(end - start)
    if end - start >= 2:
        _void(out, start, end)


def _void(out: bytearray, at: int, stop: int) -> None:
    """Write a void element over these bytes (RFC 8794, section 11.3.2)."""
    size = stop - at
    length = next(n for n in range(1, 9) if size - 1 - n < (1 << 7 * n) - 1)
    out[at:stop] = b"\xec" + (size - 1 - length | 1 << 7 * length).to_bytes(length, "big") + bytes(size - 1 - length)


def _clean_vorbis_setup(out: bytearray, start: int, end: int) -> None:
    """Blank the comment among the three header packets of a Vorbis track (laced as RFC 9559, section 10.3 has it)."""
    at = start + 1
    lengths = []
    for _ in range(out[start] if start < end else 0):
        length = 0
        while at < end and out[at] == 255:
            length += 255
            at += 1
        if at >= end:
            raise _broken("WebM")
        lengths.append(length + out[at])
        at += 1
    if len(lengths) != 2 or at + sum(lengths) > end:
        raise _broken("WebM")
    first, size = at + lengths[0], lengths[1]
    if bytes(out[first : first + 7]) != b"\x03vorbis":
        raise _broken("WebM")
    out[first : first + size] = b"\x03vorbis" + _no_comment(size - 8) + b"\x01"
