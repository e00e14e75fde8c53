"""What pages of a trainee's way show, worked out from values."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from sidelong.clinic.accounts.people import Person
from sidelong.clinic.look import StepState, WayStep
from sidelong.clinic.protocols.queries import site_rules
from sidelong.clinic.trainees.actions import WhyClosed
from sidelong.clinic.trainees.record import Record
from sidelong.clinic.trainees.standing import Standing
from sidelong.clinic.trainees.way import next_step, ways_of
from sidelong.paper.language import read_language
from sidelong.paper.readiness_print import compose_readiness
from sidelong.problems import Problem, Refused
from sidelong.training.gates import Answer, Gate
from sidelong.training.readiness import Part, Readiness, Reason
from sidelong.training.referral import PieceForm, Referral


@dataclass(frozen=True)
class Line:
    """One trainee in the list.

    Parameters
    ----------
    record : Record
        Who, by code.
    last : WayStep or None
        The last step that is done.
    next : WayStep or None
        The next one; None where the way has stopped or is at its end.
    stopped : WayStep or None
        Where it has stopped.
    """

    record: Record
    last: WayStep | None
    next: WayStep | None
    stopped: WayStep | None

    @property
    def ended(self) -> str:
        """Why nothing is next: the course is closed, or every step of an open one is done."""
        if self.record.course and not self.record.is_open:
            return f"course {self.record.course} is closed: {_WHY_CLOSED[self.record.why_closed]}"
        return f"everything is done: close course {self.record.course}"


_WHY_CLOSED = {
    str(WhyClosed.FINISHED): "finished",
    str(WhyClosed.STOPPED): "stopped before its end",
    str(WhyClosed.LOST): "nobody could be reached",
}


def told_lines(records: Iterable[Record], *, waiting_for: str = "") -> tuple[Line, ...]:
    """Say of each trainee where it stands and what is next.

    Parameters
    ----------
    records : iterable of Record
        In the list's order.
    waiting_for : str
        Title of a step, to list those alone for whom it is next; empty for all.

    Returns
    -------
    tuple of Line
        One for each.
    """
    known = tuple(records)
    ways = ways_of(known)
    lines = tuple(_line(each, ways[each.code]) for each in known)
    if not waiting_for:
        return lines
    return tuple(each for each in lines if each.next and each.next.title == waiting_for)


def _line(record: Record, steps: Sequence[WayStep]) -> Line:
    done = [each for each in steps if each.state is StepState.DONE]
    stopped = next((each for each in steps if each.state is StepState.STOPPED), None)
    return Line(record, done[-1] if done else None, next_step(steps), stopped)


def languages_of(sites: Sequence[str], *, seen_by: Person) -> tuple[str, ...]:
    """Give the languages that any of the sites offers, each once."""
    offered = [
        language
        for site in sites
        for language in site_rules(site, seen_by=seen_by).protocol.languages
    ]
    return tuple(dict.fromkeys(offered))


def pick_answers(sent: Mapping[str, Any], known: Referral | None) -> dict[str, Answer]:
    """Pick the answers out of what was sent.

    Parameters
    ----------
    sent : mapping of str to str
        Fields called ``q-`` and the question's key.
    known : Referral or None
        Answers so far; those that stayed the same are left out. None takes all.

    Returns
    -------
    dict of str to Answer
        By question.

    Raises
    ------
    Refused
        If something else than yes, no or unknown was sent.
    """
    given: dict[str, Answer] = {}
    for name, value in sent.items():
        if not name.startswith("q-") or not value:
            continue
        if value not in set(Answer):
            remedy = "Answer with yes, no or don't know."
            raise Refused([Problem("answer", "it is none of the three", remedy, "referral")])
        key = name.removeprefix("q-")
        if known is None or known.answers.get(key) != value:
            given[key] = Answer(value)
    return given


def changed_referral(record: Record, typed: Mapping[str, Any]) -> Referral:
    """Make the next version of a referral; its answers stay."""
    before = record.referral.referral if record.referral else None
    if before is None:
        before = Referral(record.code, record.site, None, language=record.language)
    return replace(
        before,
        age_years=typed["age_years"],
        form=PieceForm(typed["form"]),
        last_change=typed["last_change"],
        band="",
    )


def say_visit(record: Record, *, is_released: bool) -> str:
    """Say what follows from a visit that was written down.

    Parameters
    ----------
    record : Record
        As it stood before the visit.
    is_released : bool
        Whether pieces may go home after it.

    Returns
    -------
    str
        For the page that comes next.
    """
    if is_released:
        return "What was seen is kept. Pieces may go home."
    if record.is_locked:
        return (
            "What was seen is kept. No piece goes home: practice is locked until a clinician has "
            "answered the event."
        )
    return "What was seen is kept. Nothing goes home after this visit."


def readiness_shown(standing: Standing, *, gate: str = "") -> dict[str, Any]:
    """Put a standing into the words of the printed page.

    Parameters
    ----------
    standing : Standing
        Where a trainee stands.
    gate : str
        Key of a gate, to show that one alone.

    Returns
    -------
    dict of str to object
        ``printed``, ``sorted``, ``gaps``, ``reasons`` as pairs of reason and words, and
        ``decidable``, the gates on which a decision changes something; ``asked_first``, the pairs
        that stand against practice as a whole, and ``gaps_beside``, what else does.
    """
    held = standing.sorted_referral
    printed = compose_readiness(held, protocol=standing.protocol, language=read_language("en"))
    pairs = list(zip(held.reasons, printed.reasons, strict=True))
    reasons = [(reason, words) for reason, words in pairs if not gate or reason.gate == gate]
    return {
        "printed": printed,
        "sorted": held,
        "reasons": reasons,
        "gaps": standing.told_gaps,
        "gaps_beside": standing.gaps_beside(Part.GATES, Part.ANSWERS, Part.DECISION),
        "asked_first": [each for each in pairs if _is_weighed(each[0])],
        "decidable": {each.key for each in standing.protocol.active_gates if _is_decidable(each)},
    }


def _is_weighed(reason: Reason) -> bool:
    """Tell whether a question was answered, and stands against practice."""
    return reason.answer is not None and reason.state is not Readiness.READY


def _is_decidable(gate: Gate) -> bool:
    return bool(gate.decide or gate.holds or gate.held_limits or gate.either)
