"""A photograph that a browser can show, made here so that no file has to be kept."""

import struct
import zlib


def png(side: int = 8) -> bytes:
    """A small brick-coloured square. Source of the form: PNG specification, third edition, clauses 5 and 11."""
    header = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
    rows = (b"\0" + b"\x9c\x37\x20" * side) * side
    return b"\x89PNG\r\n\x1a\n" + _chunk(b"IHDR", header) + _chunk(b"IDAT", zlib.compress(rows)) + _chunk(b"IEND", b"")


def _chunk(kind: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))
