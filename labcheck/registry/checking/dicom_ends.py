"""Whether a DICOM file ends where its own lengths say: the reader we use takes a file cut off for a short one."""

from __future__ import annotations

import struct

EXPLICIT_LITTLE_ENDIAN = "1.2.840.10008.1.2.1"
PREAMBLE = 132
_LONG = frozenset(["OB", "OD", "OF", "OL", "OV", "OW", "SQ", "SV", "UC", "UN", "UR", "UT", "UV"])
"""Value representations whose length takes four bytes (PS3.5, 7.1.2)."""
_OPEN = 0xFFFFFFFF
_ITEM, _ITEM_END, _SEQUENCE_END = b"\xfe\xff\x00\xe0", b"\xfe\xff\x0d\xe0", b"\xfe\xff\xdd\xe0"


def ends_whole(data: bytes) -> bool:
    """Whether every element of an explicit little endian file is there to its last byte."""
    try:
        return _elements(data, PREAMBLE, None) == len(data)
    except (struct.error, UnicodeDecodeError, RecursionError):
        return False


def _elements(data: bytes, at: int, closing: bytes | None) -> int:
    """The place after a run of elements: after their closing mark, or at the end of the data."""
    while at < len(data):
        tag = data[at : at + 4]
        if tag == closing:
            return at + 8
        kind = data[at + 4 : at + 6].decode("ascii")
        if kind in _LONG:
            (length,), at = struct.unpack_from("<I", data, at + 8), at + 12
        else:
            (length,), at = struct.unpack_from("<H", data, at + 6), at + 8
        at = _items(data, at) if length == _OPEN else at + length
    if closing is not None or at > len(data):
        raise struct.error("the data end within an element")
    return at


def _items(data: bytes, at: int) -> int:
    """The place after a sequence of open length."""
    while data[at : at + 4] == _ITEM:
        (length,) = struct.unpack_from("<I", data, at + 4)
        at = _elements(data, at + 8, _ITEM_END) if length == _OPEN else at + 8 + length
    if data[at : at + 4] != _SEQUENCE_END:
        raise struct.error("the data end within a sequence")
    return at + 8
