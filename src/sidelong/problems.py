"""What is said when an input is refused: where, what happened, what to do.

Every refusal that a person can meet is a :class:`Problem`. One text serves terminal, form and
log, so a message may hold a trainee's code but never a name, a birth date or free text. The
kinds of problem are listed, with their remedies, in ``docs/problems.md``.
"""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Problem:
    """One fault in one place.

    Parameters
    ----------
    where : str
        File, row and field, or the part of a document; `""` when the input has only one place.
    what : str
        What happened, with the value that was met.
    remedy : str
        What to do next, as a full sentence.
    kind : str
        Stem of the heading in ``docs/problems.md`` that explains this fault.
    """

    where: str
    what: str
    remedy: str
    kind: str = "input"

    def __str__(self) -> str:
        """Give the one text that every entrance shows."""
        start = f"{self.where}: " if self.where else ""
        return f"{start}{self.what}. {self.remedy}"


class Refused(Exception):
    """An input that was refused, with every fault in it.

    Parameters
    ----------
    problems : sequence of Problem
        At least one; all faults that were found, in reading order.

    Raises
    ------
    ValueError
        If no problem is given: a refusal without a reason helps nobody.
    """

    exit_status = 1

    def __init__(self, problems: Sequence[Problem]) -> None:
        if not problems:
            raise ValueError("a refusal needs at least one problem")
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))
