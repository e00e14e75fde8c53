"""Reading sign-offs for ``up``, as values."""

from dataclasses import dataclass
from datetime import datetime

from sidelong.clinic.accounts.people import Person, demand
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.practice.evidence import protocol_for
from sidelong.clinic.practice.nights import find_course, known_nights
from sidelong.clinic.practice.up_sign_off import UpMeaning, is_up_signed_off, up_holds
from sidelong.training.position import Position


@dataclass(frozen=True)
class UpLine:
    """One sign-off as pages show it: what it says, what for, whose, and whether it still fits."""

    meaning: UpMeaning
    reason: str
    role: str
    shown_as: str
    signed: datetime
    holds: bool


@dataclass(frozen=True)
class UpNow:
    """Where the sign-off for ``up`` of one course stands.

    Parameters
    ----------
    is_practised : bool
        Whether ``up`` is in the last version of the plan.
    is_signed_off : bool
        Whether it may be suggested.
    protocol : str
        Version of the protocol under which it is practised.
    lines : tuple of UpLine
        All that was signed, the last one first.
    """

    is_practised: bool
    is_signed_off: bool
    protocol: str
    lines: tuple[UpLine, ...]


def up_now(code: str, course: int, *, seen_by: Person) -> UpNow:
    """Say where the sign-off for ``up`` stands.

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
    UpNow
        With all that was signed.
    """
    demand(Permission.SEE_RESULTS, of=seen_by)
    row = find_course(code, course)
    return UpNow(
        is_practised=Position.UP in known_nights(row).plan.positions,
        is_signed_off=is_up_signed_off(row),
        protocol=protocol_for(row).version,
        lines=tuple(
            UpLine(
                meaning=UpMeaning(each.meaning),
                reason=each.reason,
                role=each.role,
                shown_as=each.shown_as,
                signed=datetime.fromisoformat(each.signed),
                holds=up_holds(each),
            )
            for each in row.up_sign_offs.select_related("course").order_by("-pk")
        ),
    )
