"""A trainee's way to a booklet, step by step, through the same actions as the pages."""

from datetime import UTC, datetime, timedelta
from importlib.resources import files
from pathlib import Path
from typing import Any

from sidelong.clinic.trainees.visit import Seen, SeenPiece, SeenWater, TeachingVisit
from sidelong.exchange.pieces import read_ladder
from sidelong.exchange.protocols import read_demo_protocol
from sidelong.pathway.enrolling import Enrolment, NightPiece
from sidelong.pathway.planning import draw_plans
from sidelong.training.gates import Answer
from sidelong.training.position import ALL_POSITIONS, Position
from sidelong.training.referral import PRACTICE, Decided, Decision, Referral

# Pages ask the clock, so what stands before them has to be of today as well.
NOW = datetime.now(UTC)
TODAY = NOW.date()
END = TODAY + timedelta(days=25)
SITE = "demo"
ALL_NO = dict.fromkeys(read_demo_protocol().questions, Answer.NO)


def ladder() -> Any:
    return read_ladder(Path(str(files("sidelong.exchange") / "demo_ladder.csv")))


def take_up(lead: Any, *, protocol: Any = None) -> None:
    """Take the invented clinic's protocol and ladder into use."""
    from sidelong.clinic.protocols.actions import take_up_ladder, take_up_protocol

    take_up_protocol(protocol=protocol or read_demo_protocol(), now=NOW, by=lead)
    take_up_ladder(site=SITE, ladder=ladder(), now=NOW, by=lead)


def refer(
    coach: Any, *, answers: Any = ALL_NO, age: int | None = 9, code: str = "", nth: int = 0
) -> str:
    """Enter somebody, with the questions answered."""
    from sidelong.clinic.trainees.actions import enter_trainee, write_referral

    code = enter_trainee(
        site=SITE, language="en", code=code, now=NOW, below=lambda n: nth % n, by=coach
    )
    referral = Referral(code, SITE, age, answers=answers, language="en", referred=TODAY)
    write_referral(referral=referral, now=NOW, by=coach)
    return code


def decision(code: str, gate: str = PRACTICE, **fields: Any) -> Decision:
    usual: dict[str, Any] = {
        "trainee": code,
        "gate": gate,
        "decided": Decided.GO,
        "decided_by": "Dr Invented",
        "role": "swallowing specialist",
        "decided_on": TODAY,
        "expires_on": END,
        "reason": "eats and drinks well",
    }
    return Decision(**usual | fields)


def clear(code: str, clinician: Any, **fields: Any) -> None:
    """Let a clinician decide for practice as a whole."""
    from sidelong.clinic.trainees.actions import decide

    decide(decision=decision(code, **fields), now=NOW, by=clinician)


def seen(
    code: str,
    *,
    positions: tuple[Position, ...] = ALL_POSITIONS,
    piece: str = "bead-3",
    changed: Any = None,
    **fields: Any,
) -> TeachingVisit:
    """A visit at which all went down cleanly, but for what is changed."""
    rows = {each: Seen(each, SeenWater.CLEAN, SeenPiece.CLEAN) for each in positions}
    rows |= {each.position: each for each in changed or ()}
    usual: dict[str, Any] = {
        "trainee": code,
        "held_on": TODAY,
        "adult_present": True,
        "trainee_agreed": True,
        "seen": tuple(rows[each] for each in ALL_POSITIONS if each in rows),
        "piece": piece,
    }
    return TeachingVisit(**usual | fields)


def visit(code: str, coach: Any, *, release: bool = True, **fields: Any) -> int:
    from sidelong.clinic.trainees.plan_actions import record_visit

    return record_visit(visit=seen(code, **fields), release=release, now=NOW, by=coach)


def issue(code: str, coach: Any, *, start: Any = None) -> int:
    from sidelong.clinic.trainees.plan_actions import begin_allocation, issue_plan

    begin_allocation(now=NOW, by=coach)
    return issue_plan(code=code, start=start, now=NOW, by=coach)


def plan_elsewhere(code: str, *, seed: str = "7", piece: str = "bead-3", mm: float = 3.0) -> Any:
    """A plan as the command would draw it."""
    enrolment = Enrolment(code, ALL_POSITIONS, SITE, "older", NightPiece(mm, piece))
    version = read_demo_protocol().version
    return draw_plans([enrolment], seed=seed, n_nights=14, protocol_version=version)[0]
