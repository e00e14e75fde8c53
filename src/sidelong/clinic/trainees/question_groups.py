"""The readiness questions as a page shows them: in groups that belong together.

The groups follow the numbers of the standard gates; which group a question stands in changes
nothing about what a yes does.
"""

from dataclasses import dataclass

from sidelong.training.gates import N_STANDARD_GATES, Answer, AskedBy, Gate
from sidelong.training.protocol import Protocol
from sidelong.training.referral import Referral

# Last number of each group.
_GROUPS = (
    (8, "Swallowing and the gullet"),
    (18, "Mouth, throat and airway"),
    (27, "Wakefulness, nerves and neck"),
    (33, "Stomach, breathing and fluids"),
    (44, "Allergies, diet and teeth"),
    (48, "Understanding and behaviour"),
    (52, "Age, weight and pregnancy"),
    (N_STANDARD_GATES, "Home and agreement"),
)
_OWN = "This site's own questions"


@dataclass(frozen=True)
class Asked:
    """One question on the page.

    Parameters
    ----------
    key, number, question, why : str
        Of the gate; the number is empty for a follow-up question.
    answer : str
        ``yes``, ``no``, ``unknown`` or empty.
    after : str
        For a follow-up question: key of the one that has to be yes.
    is_due : bool
        Whether an answer is waited for now.
    """

    key: str
    number: str
    question: str
    why: str
    answer: str
    after: str = ""
    is_due: bool = True


@dataclass(frozen=True)
class Group:
    """Questions under one heading."""

    heading: str
    questions: tuple[Asked, ...]


def group_questions(protocol: Protocol, referral: Referral) -> tuple[Group, ...]:
    """Lay out the questions that staff ask, with the answers so far.

    Parameters
    ----------
    protocol : Protocol
        The site's questions.
    referral : Referral
        Answers so far, and the age, which leaves some questions out.

    Returns
    -------
    tuple of Group
        Without empty groups.
    """
    headings: dict[str, list[Asked]] = {}
    for gate in protocol.active_gates:
        if gate.asked_by is AskedBy.STAFF and _is_for(gate, referral):
            headings.setdefault(_heading(gate), []).extend(_asked(gate, referral))
    return tuple(Group(heading, tuple(asked)) for heading, asked in headings.items())


def _is_for(gate: Gate, referral: Referral) -> bool:
    return referral.age_years is None or referral.age_years >= gate.from_age


def _heading(gate: Gate) -> str:
    return next((heading for last, heading in _GROUPS if gate.number <= last), _OWN)


def _asked(gate: Gate, referral: Referral) -> list[Asked]:
    answer = referral.answers.get(gate.key)
    asked = [Asked(gate.key, str(gate.number), gate.question, gate.why, answer or "")]
    if gate.follow_up is not None:
        asked.append(
            Asked(
                gate.follow_up.key,
                "",
                gate.follow_up.question,
                "",
                referral.answers.get(gate.follow_up.key) or "",
                after=gate.key,
                is_due=answer is Answer.YES,
            )
        )
    return asked
