"""Pictures for tests, drawn on the spot: whole ones, and every kind of bad one."""

import io
import struct
import zlib

from PIL import Image


def picture(kind="JPEG", size=(640, 480), color=(60, 120, 70), **options):
    """The bytes of a plain picture with a lighter left half, so that turning it can be seen."""
    drawn = Image.new("RGB", size, color)
    drawn.paste((230, 230, 200), (0, 0, size[0] // 2, size[1]))
    out = io.BytesIO()
    drawn.save(out, kind, **options)
    return out.getvalue()


def picture_with_metadata():
    """A JPEG that says where and with what it was taken, and that it lies on its side."""
    exif = Image.Exif()
    exif[0x0110] = "A telling camera"
    exif[0x0112] = 6  # turn a quarter clockwise to see it upright
    exif.get_ifd(0x8825)[1] = "N"
    return picture(exif=exif, comment=b"by somebody")


SVG = b'<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"/>'
HTML = b"<!doctype html><script>alert(1)</script>"


def pixel_bomb():
    """A small, well-formed PNG whose header promises 60,000 x 60,000 pixels."""
    whole = picture("PNG", size=(8, 8))
    header = b"IHDR" + struct.pack(">II", 60_000, 60_000) + whole[24:29]
    return whole[:12] + header + struct.pack(">I", zlib.crc32(header)) + whole[33:]


def broken_inside():
    """A PNG that looks whole from outside and cannot be decoded."""
    whole = picture("PNG", size=(200, 200))
    start = whole.index(b"IDAT")
    length = struct.unpack(">I", whole[start - 4 : start])[0]
    noise = b"IDAT" + bytes([0x78, 0x9C]) + b"\xff" * (length - 2)
    checked = noise + struct.pack(">I", zlib.crc32(noise))
    return whole[:start] + checked + whole[start + length + 8 :]
