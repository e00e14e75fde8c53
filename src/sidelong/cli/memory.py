"""Keeping the memory of one picture for the next one."""

import ctypes
import platform

_TRIM_THRESHOLD, _MMAP_THRESHOLD = -1, -3  # as glibc's malloc.h numbers them
_LARGEST = 32 * 2**20  # bytes; glibc takes no more
_KEPT = 256 * 2**20  # bytes


def keep_large_blocks() -> bool:
    """Ask for the memory of freed pictures to be kept by this process, for the pictures to come.

    By default every large array is fetched from the system, page by page, and given back, which
    takes time with each of them. A command that ends soon may keep what it has.

    Returns
    -------
    bool
        Whether the system's library could be asked: glibc, that is, most of Linux.
    """
    if platform.libc_ver()[0] != "glibc":
        return False
    library = ctypes.CDLL(None)
    return bool(
        library.mallopt(_MMAP_THRESHOLD, _LARGEST) and library.mallopt(_TRIM_THRESHOLD, _KEPT)
    )
