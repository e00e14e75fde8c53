"""From the visit to the booklet: what is refused, how orders are drawn, what is printed."""

import threading
from collections import Counter
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
from django.db import IntegrityError, connection, transaction

from sidelong.cli.application import run
from sidelong.clinic.accounts.people import NotPermitted, Operator
from sidelong.clinic.audit.acts import act
from sidelong.clinic.audit.queries import links_about
from sidelong.clinic.keys import Key, Purpose
from sidelong.clinic.trainees.loading import invent_visit, load_plans
from sidelong.clinic.trainees.models import (
    Allocation,
    BookletRow,
    Course,
    PlanRow,
    Stream,
    VisitRow,
)
from sidelong.clinic.trainees.plan_actions import (
    begin_allocation,
    hand_out_booklet,
    issue_plan,
    take_over_plan,
)
from sidelong.clinic.trainees.queries import read_record
from sidelong.clinic.trainees.rows import plan_of
from sidelong.clinic.trainees.visit import Seen, SeenPiece, SeenWater
from sidelong.designs import commit_seed
from sidelong.exchange.pieces import write_ladder
from sidelong.exchange.plans import read_plans, write_plans
from sidelong.exchange.protocols import read_demo_protocol, write_protocol
from sidelong.exchange.readiness import write_readiness
from sidelong.paper.sheet import Paper
from sidelong.pathway.planning import differing_plans
from sidelong.problems import Refused
from sidelong.training.entry import Scale
from sidelong.training.gates import Answer
from sidelong.training.position import ALL_POSITIONS, Position
from sidelong.training.referral import Decided


@pytest.fixture
def seed(settings: Any) -> Any:
    """A known key on the ring, so that the command can draw with the same."""
    here = settings.INSTALLATION
    ring = here.key_ring()
    key = Key("allocation-9", Purpose.ALLOCATION, date(2026, 11, 25), bytes(range(32)))
    here.keep_key_ring(replace(ring, keys=(*ring.keys, key)))
    yield key.secret.hex()
    here.keep_key_ring(ring)


def fake_pdf(template: str, *, page: Any) -> bytes:
    return f"{template} {page['code']}".encode()


def test_a_visit_needs_a_decision_that_holds(referred: str, coach: Any, cast: Any) -> None:
    with pytest.raises(Refused, match="a named clinician decides"):
        cast.visit(referred, coach)
    assert not VisitRow.objects.exists()
    assert not Course.objects.exists()


def test_the_first_visit_opens_the_course(decided: str, coach: Any, cast: Any) -> None:
    assert cast.visit(decided, coach, release=False) == 1
    assert cast.visit(decided, coach) == 2
    assert Course.objects.get().number == 1


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"adult_present": False}, "adult from home"),
        ({"trainee_agreed": False}, "did not agree"),
        ({"changed": [Seen(Position.LEFT, SeenWater.SIGNS)]}, "not safe"),
        ({"changed": [Seen(each, SeenWater.CLEAN) for each in ALL_POSITIONS]}, "no piece"),
    ],
)
def test_nothing_goes_home_that_was_not_seen_swallowed_cleanly(
    changed: Any, said: str, decided: str, coach: Any, cast: Any
) -> None:
    with pytest.raises(Refused, match=said):
        cast.visit(decided, coach, **changed)
    cast.visit(decided, coach, release=False, **changed)
    with pytest.raises(Refused, match="released nothing"):
        cast.issue(decided, coach)
    assert not PlanRow.objects.exists()


def test_the_database_refuses_a_release_of_what_nobody_saw(
    decided: str, coach: Any, cast: Any
) -> None:
    cast.visit(
        decided,
        coach,
        release=False,
        changed=[Seen(each, SeenWater.CLEAN, SeenPiece.NOT_DOWN) for each in ALL_POSITIONS],
    )
    row = VisitRow.objects.get()
    row.released = True
    with pytest.raises(IntegrityError), transaction.atomic(), act("x", by=Operator(), subject="x"):
        row.save()


def test_the_database_refuses_a_plan_without_decision_or_visit(planned: str) -> None:
    for name in ("decision", "visit", "protocol"):
        row = PlanRow.objects.get()
        row.pk, row.version, row.stream_index = None, 2, 99
        setattr(row, f"{name}_id", None)
        with (
            pytest.raises(IntegrityError),
            transaction.atomic(),
            act("x", by=Operator(), subject="x"),
        ):
            row.save()


def test_a_position_or_a_piece_that_is_ruled_out_is_not_tried(
    rules: None, coach: Any, clinician: Any, cast: Any
) -> None:
    code = cast.refer(coach, answers=cast.ALL_NO | {"phenylketonuria": Answer.NO})
    cast.clear(
        code,
        clinician,
        decided=Decided.GO_WITH_LIMITS,
        takes_out=frozenset({Position.DOWN}),
        max_piece_mm=4.0,
    )
    with pytest.raises(Refused) as refused:
        cast.visit(code, coach, piece="bead-5")
    said = str(refused.value)
    assert "down is ruled out and was tried" in said
    assert "5 mm is larger than the 4 mm allowed" in said
    left = tuple(each for each in ALL_POSITIONS if each is not Position.DOWN)
    cast.visit(code, coach, positions=left)
    cast.issue(code, coach)
    assert plan_of(PlanRow.objects.get()).positions == left


def test_a_visit_is_not_dated_ahead(decided: str, coach: Any, cast: Any) -> None:
    with pytest.raises(Refused, match="after today"):
        cast.visit(decided, coach, held_on=cast.TODAY + timedelta(days=1))


def test_a_plan_needs_a_visit(decided: str, coach: Any, cast: Any) -> None:
    with pytest.raises(Refused, match="no teaching visit"):
        cast.issue(decided, coach)


def test_a_plan_needs_a_decision_on_its_own_day(
    visited: str, coach: Any, clinician: Any, cast: Any
) -> None:
    cast.clear(visited, clinician, decided=Decided.DO_NOT_GO)
    with pytest.raises(Refused, match="decided against practice"):
        cast.issue(visited, coach)


def test_a_clinician_and_a_pharmacist_issue_nothing(
    visited: str, clinician: Any, analyst: Any, cast: Any
) -> None:
    for person in (clinician, analyst):
        with pytest.raises(NotPermitted):
            issue_plan(code=visited, now=cast.NOW, by=person)


def test_positions_that_hurt_are_not_in_the_plan(decided: str, coach: Any, cast: Any) -> None:
    cast.visit(decided, coach, changed=[Seen(Position.RIGHT, SeenWater.HURTS)])
    cast.issue(decided, coach)
    assert Position.RIGHT not in plan_of(PlanRow.objects.get()).positions


def test_the_commitment_is_recorded_before_the_first_draw(
    visited: str, coach: Any, cast: Any, settings: Any
) -> None:
    with pytest.raises(Refused, match="commitment has not been recorded"):
        issue_plan(code=visited, now=cast.NOW, by=coach)
    assert not Stream.objects.exists()
    cast.issue(visited, coach)
    key = settings.INSTALLATION.key_ring().newest(Purpose.ALLOCATION)
    drawn = plan_of(PlanRow.objects.get()).allocation
    assert drawn is not None
    assert drawn.commitment == commit_seed(key.secret) == Allocation.objects.get().commitment
    begun = next(links_about(f"allocation:{key.name}"))
    issued = list(links_about(f"trainee:{visited}"))[-1]
    assert (begun.verb, issued.verb) == ("allocation begun", "plan issued")
    assert begun.number < issued.number
    assert key.secret.hex() not in begun.detail + issued.detail


def test_beginning_twice_records_one_commitment(rules: None, coach: Any, cast: Any) -> None:
    begin_allocation(now=cast.NOW, by=coach)
    begin_allocation(now=cast.NOW, by=coach)
    assert Allocation.objects.count() == 1


def test_another_table_of_base_orders_stops_the_allocation(
    visited: str, coach: Any, cast: Any
) -> None:
    begin_allocation(now=cast.NOW, by=coach)
    with act("x", by=Operator(), subject="x"):
        Allocation.objects.update(orders_table="0" * 64)
    with pytest.raises(Refused, match="another version's table of orders"):
        issue_plan(code=visited, now=cast.NOW, by=coach)


def test_a_failing_act_gives_the_place_back(
    visited: str, coach: Any, cast: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    from sidelong.clinic.audit import acts

    begin_allocation(now=cast.NOW, by=coach)

    def fail(_: Any) -> None:
        raise OSError("no space left")

    with monkeypatch.context() as patch:
        patch.setattr(acts, "append", fail)
        with pytest.raises(OSError, match="no space left"):
            issue_plan(code=visited, now=cast.NOW, by=coach)
    assert not Stream.objects.filter(n_taken__gt=0).exists()
    issue_plan(code=visited, now=cast.NOW, by=coach)
    assert PlanRow.objects.get().stream_index == 0


def test_orders_are_those_that_the_command_draws(
    rules: None, seed: str, coach: Any, clinician: Any, cast: Any, tmp_path: Path
) -> None:
    codes = []
    for nth in range(4):
        code = cast.refer(coach, nth=nth + 1, age=9 if nth % 2 else 20)
        cast.clear(code, clinician)
        cast.visit(code, coach)
        codes.append(code)
        cast.issue(code, coach)
    kept = {row.course.trainee_id: plan_of(row) for row in PlanRow.objects.all()}
    mine = [kept[code] for code in codes]

    records = [read_record(code, today=cast.TODAY, seen_by=coach) for code in codes]
    sorted_ones = [each.standing.sorted_referral for each in records if each and each.standing]
    write_readiness(tmp_path / "readiness.csv", sorted_ones)
    write_protocol(tmp_path / "protocol.toml", read_demo_protocol())
    write_ladder(tmp_path / "ladder.csv", cast.ladder())
    files = {name: str(tmp_path / f"{name}.csv") for name in ("readiness", "ladder")}
    words = [word for name, file in files.items() for word in (f"--{name}", file)]
    words += ["--protocol", str(tmp_path / "protocol.toml"), "--seed", seed]
    words += ["--out", str(tmp_path / "plans.csv"), "--today", cast.TODAY.isoformat()]
    assert run(["plan", *words]) == 0
    assert list(read_plans(tmp_path / "plans.csv")) == mine
    assert differing_plans(mine, seed=seed) == ()


@pytest.mark.django_db(transaction=True)
def test_two_at_once_never_get_one_place(make_staff: Any, cast: Any, settings: Any) -> None:
    from sidelong.clinic.accounts.roles import Role

    lead, clinician = make_staff(Role.LEAD), make_staff(Role.CLINICIAN)
    cast.take_up(lead)
    codes = []
    for nth in range(6):
        code = cast.refer(lead, nth=nth + 1)
        cast.clear(code, clinician)
        cast.visit(code, lead)
        codes.append(code)
    begin_allocation(now=cast.NOW, by=lead)
    faults: list[Exception] = []
    start = threading.Barrier(len(codes))

    def draw(code: str) -> None:
        start.wait()
        try:
            issue_plan(code=code, now=cast.NOW, by=lead)
        except Exception as fault:
            faults.append(fault)
        finally:
            connection.close()

    threads = [threading.Thread(target=draw, args=(code,)) for code in codes]
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    assert faults == []
    assert sorted(PlanRow.objects.values_list("stream_index", flat=True)) == list(range(6))
    assert Stream.objects.get().n_taken == 6
    firsts = Counter(plan_of(row).nights[0].order[0] for row in PlanRow.objects.all())
    assert len(firsts) == 5, "every position begins the first night of some trainee"


def test_a_new_version_needs_something_new(planned: str, coach: Any, cast: Any) -> None:
    with pytest.raises(Refused, match="the same positions and piece"):
        cast.issue(planned, coach)
    cast.visit(planned, coach, piece="bead-6")
    assert cast.issue(planned, coach) == 2
    record = read_record(planned, today=cast.TODAY, seen_by=coach)
    assert record is not None
    pieces = [kept.plan.nights[0].piece for kept in record.plans]
    assert pieces == ["bead-3", "bead-5"]


def test_the_warm_up_picks_the_form_of_rating(decided: str, coach: Any, cast: Any) -> None:
    cast.visit(decided, coach, scale=Scale.THREE)
    cast.issue(decided, coach)
    assert PlanRow.objects.get().scale == 3


def test_a_plan_from_a_table_keeps_its_orders(visited: str, coach: Any, cast: Any) -> None:
    cast.visit(visited, coach, piece="bead-5")
    plan = cast.plan_elsewhere(visited, piece="bead-5", mm=5.0)
    assert take_over_plan(plan=plan, now=cast.NOW, by=coach) == 1
    assert plan_of(PlanRow.objects.get()) == plan


def test_a_plan_from_a_table_keeps_to_decision_and_visit(
    visited: str, coach: Any, cast: Any
) -> None:
    plan = cast.plan_elsewhere(visited, piece="bead-5", mm=5.0)
    with pytest.raises(Refused, match="bead-5 was not seen swallowed cleanly"):
        take_over_plan(plan=plan, now=cast.NOW, by=coach)
    cast.visit(visited, coach, piece="bead-5", changed=[Seen(Position.UP, SeenWater.HURTS)])
    with pytest.raises(Refused, match="the plan uses up"):
        take_over_plan(plan=plan, now=cast.NOW, by=coach)
    without = replace(plan, allocation=None)
    with pytest.raises(Refused, match="does not say how it was drawn"):
        take_over_plan(plan=without, now=cast.NOW, by=coach)


def test_a_place_that_was_handed_out_by_command_is_not_handed_out_again(
    rules: None, seed: str, coach: Any, clinician: Any, cast: Any
) -> None:
    first, second = (cast.refer(coach, nth=nth) for nth in (1, 2))
    for code in (first, second):
        cast.clear(code, clinician)
    begin_allocation(now=cast.NOW, by=coach)
    plan = cast.plan_elsewhere(first, seed=seed)
    load_plans([plan], visits=[invent_visit(plan, held_on=cast.TODAY)], on=cast.TODAY, by=coach)
    cast.visit(second, coach)
    issue_plan(code=second, now=cast.NOW, by=coach)
    places = dict(PlanRow.objects.values_list("course__trainee", "stream_index"))
    assert places == {first: 0, second: 1}


def test_the_booklet_is_the_one_that_the_command_makes(
    planned: str, coach: Any, cast: Any, tmp_path: Path
) -> None:
    made = hand_out_booklet(code=planned, paper=Paper.A4, language="en", now=cast.NOW, by=coach)
    write_plans(tmp_path / "plans.csv", [plan_of(PlanRow.objects.get())])
    write_protocol(tmp_path / "protocol.toml", read_demo_protocol())
    write_ladder(tmp_path / "ladder.csv", cast.ladder())
    words = ["--protocol", str(tmp_path / "protocol.toml"), "--ladder"]
    words += [str(tmp_path / "ladder.csv"), "--out", str(tmp_path / "booklets")]
    assert run(["booklet", str(tmp_path / "plans.csv"), *words]) == 0
    by_command = (tmp_path / "booklets" / f"{planned}.pdf").read_bytes()
    assert pictures(made) == pictures(by_command)
    assert texts(made) == texts(by_command)


def test_a_booklet_that_was_made_is_on_record(planned: str, coach: Any, cast: Any) -> None:
    hand_out_booklet(
        code=planned,
        paper=Paper.LETTER,
        language="en",
        now=cast.NOW,
        by=coach,
        typeset=fake_pdf,
    )
    row = BookletRow.objects.get()
    assert (row.paper, row.language, row.made_by) == ("letter", "en", coach.audit_key)
    assert list(links_about(f"trainee:{planned}"))[-1].verb == "booklet made"


def test_no_booklet_is_made_once_practice_is_stopped(
    planned: str, coach: Any, clinician: Any, cast: Any
) -> None:
    cast.clear(planned, clinician, decided=Decided.DO_NOT_GO)
    with pytest.raises(Refused, match="decided against practice"):
        hand_out_booklet(
            code=planned,
            paper=Paper.A4,
            language="en",
            now=cast.NOW,
            by=coach,
            typeset=fake_pdf,
        )
    assert not BookletRow.objects.exists()


def texts(pdf: bytes) -> list[str]:
    return [page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(pdf)]


def pictures(pdf: bytes) -> list[bytes]:
    return [page.render(scale=0.5).to_numpy().tobytes() for page in pypdfium2.PdfDocument(pdf)]
