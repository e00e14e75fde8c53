"""A process that is killed while it stores photographs leaves no half of one."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

LOOP = Path(__file__).parent / "kill_loop.py"


@pytest.mark.skipif(not hasattr(os, "fork"), reason="children are forked")
def test_no_kill_leaves_a_photograph_without_its_row_or_a_row_without_its_photograph() -> None:
    own = {k: v for k, v in os.environ.items() if not k.startswith(("SIDELONG", "DJANGO"))}
    done = subprocess.run(
        [sys.executable, str(LOOP), "--kills", "25", "--seconds", "4", "--seed", "7"],
        env=own,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, (done.stdout + done.stderr)[-3000:]
    told = json.loads(done.stdout)
    assert told["photographs"] >= told["careful"]["kills"] >= 5
    assert told["careful"]["faults"] == 0
    assert told["careless"]["faults"] > 0, "a loop that finds nothing there proves nothing"
