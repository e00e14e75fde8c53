"""The table of questions to ask kindly at follow-up visits, which is never written over.

It is for those who hold the visits: join it to no letter, and to nothing that compares coaches.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from sidelong.exchange.columns import Column, Kind
from sidelong.exchange.files import check_free_place
from sidelong.exchange.plans import TRAINEE
from sidelong.exchange.tables import write_table

QUESTION_COLUMNS = (
    TRAINEE,
    Column(name="sign", kind=Kind.LABEL, says="What was noticed; it proves nothing."),
    Column(name="nights", kind=Kind.LABEL, says="Numbers of the nights, with blanks between."),
    Column(name="question", kind=Kind.LABEL, says="A question about it that blames nobody."),
    Column(
        name="changes_answer",
        kind=Kind.CHOICE,
        choices=("yes", "no"),
        says="Whether verdict or suggestion would be another one without all nights of the "
        "trainee that have a sign; the same in all rows of a trainee.",
    ),
)


@dataclass(frozen=True)
class WrittenQuestion:
    """One row of the table."""

    trainee: str
    sign: str
    nights: tuple[int, ...]
    question: str
    changes_answer: bool


def check_questions_place(path: Path) -> None:
    """Refuse a place where a table stands already.

    Parameters
    ----------
    path : Path
        Table to be written later.

    Raises
    ------
    Refused
        If there is something of that name, or no folder for it.
    """
    check_free_place(path, why="questions are never written over others", kind="file")


def write_questions(path: Path, questions: Iterable[WrittenQuestion]) -> None:
    """Write questions whole, or not at all, and never over earlier ones.

    Parameters
    ----------
    path : Path
        CSV, or Parquet where the name ends in ``.parquet``; there may be none of that name.
    questions : iterable of WrittenQuestion
        In the order in which they are to stand.
    """
    check_questions_place(path)
    write_table(
        path,
        QUESTION_COLUMNS,
        (
            {
                "trainee": each.trainee,
                "sign": each.sign,
                "nights": " ".join(map(str, each.nights)),
                "question": each.question,
                "changes_answer": "yes" if each.changes_answer else "no",
            }
            for each in questions
        ),
    )
