"""The clinic's database tests once more, on an embedded PostgreSQL."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).resolve().parent


@pytest.mark.slow
@pytest.mark.skipif(
    os.environ.get("SIDELONG_TEST_DATABASE") == "postgresql", reason="this is that run"
)
def test_all_database_tests_pass_on_postgresql_too() -> None:
    own = {
        k: v for k, v in os.environ.items() if not k.startswith(("SIDELONG", "DJANGO", "PYTEST"))
    }
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-x", str(HERE)],
        cwd=HERE.parents[1],
        env={**own, "SIDELONG_TEST_DATABASE": "postgresql"},
        capture_output=True,
        text=True,
        encoding="utf-8",
        errors="replace",
        timeout=1800,  # ends a hang only: a busy machine needs three times as long
        check=False,
    )
    assert done.returncode == 0, done.stdout[-6000:] + done.stderr[-2000:]
    n_passed = int(done.stdout.rpartition(" passed")[0].rpartition("\n")[2].split()[-1])
    assert n_passed >= 150, "so many tests use the database"
