"""One file for a photograph and the pages cut from it, so that they come and go together."""

from collections.abc import Sequence

_MARK = b"sidelong sheets 1\n"
_BYTES = 8  # of each length, big end first


def pack(photograph: bytes, pages: Sequence[bytes]) -> bytes:
    """Join a photograph and its pages.

    Parameters
    ----------
    photograph : bytes
        As it was washed.
    pages : sequence of bytes
        Pictures of its sheets, in the order of their rows.

    Returns
    -------
    bytes
        For :func:`unpack`.
    """
    parts = [photograph, *pages]
    return _MARK + b"".join(len(part).to_bytes(_BYTES, "big") + part for part in parts)


def unpack(packed: bytes) -> tuple[bytes, tuple[bytes, ...]]:
    """Part a photograph and its pages again.

    Parameters
    ----------
    packed : bytes
        What :func:`pack` gave.

    Returns
    -------
    photograph : bytes
        As it was washed.
    pages : tuple of bytes
        Its sheets.

    Raises
    ------
    ValueError
        If it is something else.
    """
    if not packed.startswith(_MARK):
        raise ValueError("these are no packed sheets")
    parts, place = [], len(_MARK)
    while place < len(packed):
        length = int.from_bytes(packed[place : place + _BYTES], "big")
        parts.append(packed[place + _BYTES : place + _BYTES + length])
        place += _BYTES + length
    if place != len(packed) or not parts:
        raise ValueError("these packed sheets were cut short")
    return parts[0], tuple(parts[1:])
