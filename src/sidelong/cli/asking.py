"""The table of questions that `sidelong estimate --questions` writes, and never writes over."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from sidelong.exchange.questions import WrittenQuestion, check_questions_place, write_questions
from sidelong.paper.language import Language
from sidelong.pathway.backfill import chance_for, compare_without, find_backfill
from sidelong.pathway.backfill_words import say_finding
from sidelong.pathway.estimates import PractisedCourse
from sidelong.training.estimate import Estimate

QUESTIONS_STATE = (
    "Signs are reasons to ask and prove nothing: keep the table with those who hold the follow-up "
    "visits, out of letters and out of every comparison of coaches."
)


@dataclass(frozen=True, kw_only=True)
class Questions:
    """The table, and how its questions are found and said.

    Parameters
    ----------
    place : Path
        Table to write; there may be none of that name.
    language : Language
        Of the questions.
    estimate : callable
        Answers for one course as the table of estimates does.
    """

    place: Path
    language: Language
    estimate: Callable[[PractisedCourse], Estimate]

    def __post_init__(self) -> None:
        """Refuse a table that is there already, before anything is written."""
        check_questions_place(self.place)

    def write(self, practised: Sequence[PractisedCourse]) -> None:
        """Write a row for each sign; trainees without one have none."""
        found = [each for course in practised for each in self._of(course)]
        write_questions(self.place, found)

    def _of(self, course: PractisedCourse) -> Iterator[WrittenQuestion]:
        number = max((entry.course for entry in course.entries), default=1)
        findings = find_backfill(course.entries, rng=chance_for(course.trainee, number))
        compared = compare_without(course, findings, estimate=self.estimate)
        for each in findings:
            yield WrittenQuestion(
                trainee=course.trainee,
                sign=each.sign,
                nights=each.nights,
                question=say_finding(each, self.language)[1],
                changes_answer=compared is not None and compared.changes_answer,
            )
