"""What apps that stand above this one say beside a night: notes of the sheet that it came from."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from sidelong.clinic.accounts.people import Person


@dataclass(frozen=True)
class NightNote:
    """What somebody wrote by hand about a night, as a person of the clinic typed it.

    Parameters
    ----------
    title : str
        What the sheet asked there.
    text : str
        As it was typed; empty where it cannot be opened.
    by : str
        Who typed it, as colleagues know them.
    at : datetime
        When.
    is_corrected : bool
        Whether something else was typed there before.
    picture : str
        Address of its picture; empty once that was deleted.
    url : str
        Where it is corrected, and where earlier texts stand.
    """

    title: str
    text: str
    by: str
    at: datetime
    is_corrected: bool
    picture: str
    url: str


class Teller(Protocol):
    """Gives the notes of a course by number of the sheet."""

    def __call__(
        self, code: str, course: int, *, seen_by: Person
    ) -> Mapping[int, Sequence[NightNote]]:
        """Give them to somebody who may see results."""


_tellers: list[Teller] = []


def add_teller(teller: Teller) -> None:
    """Let an app that stands above this one tell the notes of a night.

    Parameters
    ----------
    teller : callable
        Asked once for a page.
    """
    if teller not in _tellers:
        _tellers.append(teller)


def notes_beside(
    code: str, course: int, *, seen_by: Person
) -> Callable[[int], tuple[NightNote, ...]]:
    """Gather the notes of a course.

    Parameters
    ----------
    code : str
        The trainee's code.
    course : int
        Number of the course.
    seen_by : Person
        Who looks.

    Returns
    -------
    callable
        Gives the notes of a night by its number.
    """
    told = [teller(code, course, seen_by=seen_by) for teller in _tellers]
    return lambda night: tuple(note for each in told for note in each.get(night, ()))
