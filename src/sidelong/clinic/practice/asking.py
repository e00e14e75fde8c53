"""Questions to ask kindly at a follow-up visit: for those who hold it, and for nobody else.

Nothing here is kept, printed, put into a letter, or counted when coaches are compared.
"""

from dataclasses import dataclass, replace

from sidelong.clinic.accounts.people import Person, demand
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.practice.answers import Evidence
from sidelong.clinic.practice.evidence import answer_now, evidence_of
from sidelong.clinic.practice.nights import find_course
from sidelong.paper.language import Language
from sidelong.pathway.backfill import PieceCount, chance_for, compare_without, find_backfill
from sidelong.pathway.backfill_words import KINDLY, say_finding, say_sensitivity
from sidelong.pathway.estimates import PractisedCourse, gather_courses
from sidelong.training.estimate import Estimate


@dataclass(frozen=True)
class Question:
    """What was noticed, and a question about it that blames nobody."""

    noticed: str
    asked: str


@dataclass(frozen=True)
class ToAsk:
    """What a follow-up visit may ask about.

    Parameters
    ----------
    questions : tuple of Question
        In the order of the signs; empty where there is none.
    sensitivity : str
        What hangs on the nights with a sign; empty where there is none.
    kindly : str
        How to ask.
    n_nights : int
        Nights with an answer.
    """

    questions: tuple[Question, ...]
    sensitivity: str
    kindly: str
    n_nights: int


def to_ask_about(
    code: str,
    course: int,
    *,
    pieces: PieceCount | None,
    language: Language,
    seen_by: Person,
) -> ToAsk:
    """Look through a course for what to ask about, and say it.

    Parameters
    ----------
    code : str
        The trainee's code.
    course : int
        Number of the course.
    pieces : PieceCount or None
        As they were counted at the visit; without it pieces are not compared.
    language : Language
        Where the sentences come from.
    seen_by : Person
        Who looks; only those who may begin a follow-up.

    Returns
    -------
    ToAsk
        The same for the same nights and pieces.
    """
    demand(Permission.BEGIN_FOLLOW_UPS, of=seen_by)
    evidence = evidence_of(find_course(code, course))
    # Nights carry no time of writing here, and are given none: when staff typed or photographed
    # them says nothing of the family, which hands in a whole booklet at once. Only the family's
    # own clock could tell a sitting.
    practised = gather_courses(evidence.entries, plans=[evidence.plan])[0]
    findings = find_backfill(practised.entries, rng=chance_for(code, course), pieces=pieces)
    compared = compare_without(
        practised, findings, estimate=lambda kept: _estimate_of(kept, evidence)
    )
    return ToAsk(
        questions=tuple(Question(*say_finding(each, language)) for each in findings),
        sensitivity=say_sensitivity(compared, language) if compared else "",
        kindly=language.say(KINDLY),
        n_nights=len(practised.entries),
    )


def _estimate_of(kept: PractisedCourse, evidence: Evidence) -> Estimate:
    """Answer as the result does, by fit, events and sign-offs of the course, for some nights."""
    left_out = {each.night for each in evidence.entries} - {each.night for each in kept.entries}
    evenings = tuple(each for each in evidence.evenings if each.entry.night not in left_out)
    return answer_now(replace(evidence, evenings=evenings)).estimate
