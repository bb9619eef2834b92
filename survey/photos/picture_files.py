"""What a picture file looks like from outside: its kind, whether it is whole, what else it hides.

Reads bytes and decodes nothing, so that it may run where the neighbor waits.
"""

import re
import struct

JPEG, PNG, WEBP = "jpeg", "png", "webp"

_MARKUP = re.compile(
    rb"<(?:script|svg|html|iframe|object|embed)[\s>/]|<!doctype|<\?php", re.IGNORECASE
)
_APPLE = (b"heic", b"heix", b"hevc", b"mif1", b"msf1", b"avif")


def kind_of(head: bytes) -> str | None:
    """The kind of picture by its first bytes; None for anything else, whatever its name says."""
    if head.startswith(b"\xff\xd8\xff"):
        return JPEG
    if head.startswith(b"\x89PNG\r\n\x1a\n"):
        return PNG
    if head.startswith(b"RIFF") and head[8:12] == b"WEBP":
        return WEBP
    return None


def is_apple_picture(head: bytes) -> bool:
    """A kind that newer phones make and that this house does not open."""
    return head[4:8] == b"ftyp" and head[8:12] in _APPLE


def end_of(data: bytes, kind: str) -> int | None:
    """Where the picture ends; None when it breaks off before.

    JPEG: ITU-T T.81, B.1.1: after a scan has begun, FF D9 can only be the end of the image. PNG:
    RFC 2083, 3.2: chunks up to IEND. WebP: RFC 9649, 2.4: the size stands in the header.
    """
    if kind == JPEG:
        return _end_of_jpeg(data)
    if kind == PNG:
        return _end_of_png(data)
    size = struct.unpack_from("<I", data, 4)[0] + 8 if len(data) >= 12 else len(data) + 1
    return size if size <= len(data) else None


def _end_of_jpeg(data: bytes) -> int | None:
    place = 2
    while place + 4 <= len(data):
        if data[place] != 0xFF:
            return None
        marker = data[place + 1]
        if marker == 0xFF:  # a fill byte
            place += 1
            continue
        if marker == 0xDA:  # start of scan
            end = data.find(b"\xff\xd9", place)
            return end + 2 if end >= 0 else None
        if marker == 0x01 or 0xD0 <= marker <= 0xD7:  # markers without a length
            place += 2
            continue
        place += 2 + struct.unpack_from(">H", data, place + 2)[0]
    return None


def _end_of_png(data: bytes) -> int | None:
    place = 8
    while place + 12 <= len(data):
        length = struct.unpack_from(">I", data, place)[0]
        name = data[place + 4 : place + 8]
        place += 12 + length
        if name == b"IEND":
            return place if place <= len(data) else None
    return None


def hides_something(data: bytes, end: int) -> bool:
    """Whether the file is something besides a picture: a page, a program, an archive, a document.

    Bytes after the end are not suspect as such: phones append a short film there.
    """
    if _MARKUP.search(data):
        return True
    if b"%PDF-" in data[:1024] or b"%PDF-" in data[end : end + 1024]:
        return True
    tail = data[max(end, len(data) - 66_000) :]
    return b"PK\x05\x06" in tail or data[end : end + 4] == b"PK\x03\x04"
