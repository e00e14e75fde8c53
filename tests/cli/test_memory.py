"""Memory of freed pictures is kept where the system's library can be asked to."""

import platform
import subprocess
import sys

import pytest

PROGRAM = """
import resource
from sidelong.cli.memory import keep_large_blocks
if {keep}:
    assert keep_large_blocks()
for _ in range(10):
    blocks = [bytearray(8 * 2**20) for _ in range(6)]
    for block in blocks:
        block[::4096] = bytes(len(block[::4096]))
    del block, blocks
print(resource.getrusage(resource.RUSAGE_SELF).ru_minflt)
"""


def faults(*, keep: bool) -> int:
    program = PROGRAM.format(keep=keep)
    done = subprocess.run(
        [sys.executable, "-c", program], check=True, capture_output=True, text=True
    )
    return int(done.stdout)


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="no other library has this setting")
def test_kept_blocks_are_not_fetched_again() -> None:
    # Six blocks of 2,048 pages of memory: fetched ten times, or once and kept.
    assert faults(keep=False) - faults(keep=True) > 5 * 6 * 2048
