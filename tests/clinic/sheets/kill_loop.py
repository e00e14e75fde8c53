"""Kills a process again and again while it stores photographs, and looks at what is left.

Run by itself for a longer loop, in a folder that it makes and removes:

    python tests/clinic/sheets/kill_loop.py --kills 2000 --seed 1

Each child takes photographs in as the page does (their washing and reading left out: both end
before anything is written), sets sheets aside and deletes pixels that are due, and is killed by
SIGKILL at a random moment. After each kill every row must have its file, which must open; files
that no row names are swept as at the next start, and none may be left. To show that such a loop
finds what it looks for, it ends with children that write the row before the file.

What is told is one line of JSON. A power cut is another matter: files and their folder are synced
before the row is written, and ``databases.py`` says what the database does.
"""

import argparse
import json
import os
import random
import signal
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path
from typing import Any

CODE = "HL-0000"
LEAST_KILLS, MOST_CARELESS = 5, 200
LONGEST_SECONDS = 0.08  # some cycles of a child, which it begins once its first is behind it


def set_up(home: Path) -> None:
    """Make an installation with its tables, somebody on the staff, and a trainee on a course."""
    from sidelong.clinic.installation import make_installation

    make_installation(home, today=datetime.now(UTC).date(), name="Harbour Lane", prefix="HL")
    os.environ["SIDELONG_HOME"] = str(home)
    os.environ["DJANGO_SETTINGS_MODULE"] = "sidelong.clinic.settings"
    import django

    django.setup()
    from django.core.management import call_command

    call_command("migrate", interactive=False, verbosity=0, skip_checks=True)
    from sidelong.clinic.accounts.people import Operator
    from sidelong.clinic.audit.acts import act
    from sidelong.clinic.trainees.models import Course, Trainee

    now = datetime.now(UTC)
    with act("set up", by=Operator(), subject="installation"):
        trainee = Trainee(code=CODE, site="demo", entered=now, entered_by="operator")
        trainee.save()
        Course(trainee=trainee, number=1, opened=now, opened_by="operator").save()


def member() -> Any:
    """Add somebody who may take photographs in."""
    from sidelong.clinic.accounts.actions import create_staff
    from sidelong.clinic.accounts.people import Operator
    from sidelong.clinic.accounts.roles import Role

    return create_staff(
        username="coach", display_name="Robin", roles=[Role.COACH, Role.LEAD], by=Operator()
    )


def one_sheet(picture: bytes) -> Any:
    """Give one sheet as the reader would."""
    from sidelong.clinic.sheets.reading import ReadSheet
    from sidelong.training.layout import SheetPage
    from sidelong.training.reading import PageReading, PageStatus

    page = SheetPage(page_id=f"{CODE}-01", pdf_page=0, width_mm=210, height_mm=297, fields=())
    return ReadSheet(PageReading(page.page_id, PageStatus.OK, 1.0), picture, {}, page)


def work(by: Any, *, name: str, is_careless: bool, at_work: Callable[[], object]) -> None:
    """Take photographs in for ever; every third time delete what is due."""
    from sidelong.clinic.accounts.people import Operator
    from sidelong.clinic.sheets import actions
    from sidelong.clinic.sheets.clearing_actions import remove_old_photographs
    from sidelong.clinic.sheets.store import PhotoStore

    held: list[Any] = []
    put = PhotoStore.put
    if is_careless:
        PhotoStore.put = lambda *words, **named: held.append((words, named))  # type: ignore[method-assign,assignment]
    for turn in count():
        now = datetime.now(UTC)
        content = f"{name} {turn}".encode() * 2000
        got = actions.receive_photograph(
            code=CODE,
            course=1,
            content=content,
            now=now,
            by=by,
            wash=bytes,
            read=lambda *_, whole=content: (one_sheet(whole),),
        )
        while held:
            words, named = held.pop()
            put(*words, **named)
        if not turn:
            at_work()
        if turn % 3 == 2 and not is_careless:
            actions.set_aside(code=CODE, course=1, sheet=got.sheets[0], now=now, by=by)
            remove_old_photographs(
                older_than=timedelta(0), now=now + timedelta(seconds=1), by=Operator()
            )


def kill_one(by: Any, *, name: str, after: float, is_careless: bool) -> None:
    """Let a child work, and kill it."""
    from django.db import connections

    connections.close_all()
    ready, tell = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            work(by, name=name, is_careless=is_careless, at_work=lambda: os.write(tell, b"."))
        finally:
            os._exit(9)
    os.read(ready, 1)
    time.sleep(after)
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    os.close(ready)
    os.close(tell)
    if not os.WIFSIGNALED(status):
        raise RuntimeError("a child ended by itself: there is a fault in it")


def look() -> tuple[int, int]:
    """Count rows without a file that opens, and files without a row after sweeping; both faults."""
    from sidelong.clinic.sheets.models import PhotoRow
    from sidelong.clinic.sheets.packing import unpack
    from sidelong.clinic.sheets.rows import photo_store
    from sidelong.problems import Refused

    store, n_bad = photo_store(), 0
    known = set(PhotoRow.objects.filter(removed=None).values_list("name", flat=True))
    for name in known:
        try:
            unpack(store.get(name))
        except (Refused, ValueError):
            n_bad += 1
    n_before = len(set(store.names()) - known)
    # As at a start an hour later: younger files may belong to an act that is still under way.
    store.sweep(known, now=datetime.now(UTC) + timedelta(hours=2))
    left = [path for path in store.folder.glob("*") if path.stem not in known]
    return n_bad + len(left), n_before


def loop(
    by: Any, *, kills: int, seconds: float, rng: random.Random, is_careless: bool
) -> dict[str, int]:
    """Kill some children and count what was found; careless ones until the first fault."""
    found = {"kills": 0, "faults": 0, "swept": 0}
    until = time.monotonic() + seconds
    while found["kills"] < kills and (time.monotonic() < until or found["kills"] < LEAST_KILLS):
        name = f"{is_careless} {found['kills']}"
        kill_one(by, name=name, after=rng.uniform(0, LONGEST_SECONDS), is_careless=is_careless)
        n_faults, n_swept = look()
        found["kills"] += 1
        found["faults"] += n_faults
        found["swept"] += n_swept
        if is_careless and n_faults:
            break
    return found


def main() -> int:
    """Run the loop; 0 where careful children left no fault and careless ones did."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=500)
    parser.add_argument("--seconds", type=float, default=float("inf"), help="careful ones end then")
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="kills-") as folder:
        set_up(Path(folder).resolve() / "clinic")
        by, rng = member(), random.Random(chosen.seed)
        begun = time.monotonic()
        wished: Any = {"seconds": chosen.seconds, "rng": rng}
        careful = loop(by, kills=chosen.kills, is_careless=False, **wished)
        from sidelong.clinic.audit.queries import check_chain
        from sidelong.clinic.sheets.models import PhotoRow

        told = {"careful": careful, "photographs": PhotoRow.objects.count()}
        told |= {"chain_holds": check_chain().holds, "seconds": round(time.monotonic() - begun, 1)}
        careless = loop(by, kills=MOST_CARELESS, seconds=60.0, rng=rng, is_careless=True)
    sys.stdout.write(json.dumps(told | {"careless": careless}) + "\n")
    is_good = not careful["faults"] and told["chain_holds"] and careless["faults"]
    return 0 if is_good else 1


if __name__ == "__main__":
    sys.exit(main())
