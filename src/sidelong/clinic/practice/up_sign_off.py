"""Whether a swallowing specialist has signed that ``up`` may be suggested to one trainee.

The protocol's signature lets ``up`` be practised; suggesting it asks for this second one. Without
it, after it was withdrawn, or when it no longer fits what was signed, ``up`` is never suggested.
"""

from dataclasses import astuple, dataclass
from datetime import datetime
from enum import StrEnum

from django.utils import timezone

from sidelong.clinic.practice.models import UpSignOff
from sidelong.clinic.practice.snapshot import digest
from sidelong.clinic.trainees.models import Course
from sidelong.training.gate_rules import SignOff


class UpMeaning(StrEnum):
    """What was signed."""

    MAY_SUGGEST = "may_suggest"
    WITHDRAWN = "withdrawn"


@dataclass(frozen=True)
class UpSigned:
    """All that is signed.

    Parameters
    ----------
    trainee : str
        The trainee's code.
    course : str
        Number of the course.
    meaning : str
        What it says.
    reason : str
        What for, in the specialist's words.
    role : str
        As what the signer signed.
    protocol : str
        Fingerprint of the protocol under which ``up`` is practised.
    signed : str
        When, UTC, ISO 8601.
    signed_by : str
        Audit key of the signer.
    """

    trainee: str
    course: str
    meaning: str
    reason: str
    role: str
    protocol: str
    signed: str
    signed_by: str

    @property
    def digest(self) -> str:
        """What the sign-off keeps; any change of any part gives another one."""
        return digest("sidelong sign-off for up 1", *astuple(self))


def up_holds(row: UpSignOff) -> bool:
    """Tell whether a sign-off still fits what stands in it."""
    signed = UpSigned(
        trainee=row.course.trainee_id,
        course=str(row.course.number),
        meaning=row.meaning,
        reason=row.reason,
        role=row.role,
        protocol=row.protocol,
        signed=row.signed,
        signed_by=row.signed_by,
    )
    return signed.digest == str(row.digest)


def sign_off_of(course: Course) -> SignOff | None:
    """Give the last sign-off of a course where it lets ``up`` be suggested, and still holds."""
    last: UpSignOff | None = course.up_sign_offs.select_related("course").order_by("pk").last()
    if last is None or last.meaning != UpMeaning.MAY_SUGGEST or not up_holds(last):
        return None
    signed_on = timezone.localdate(datetime.fromisoformat(last.signed))
    return SignOff(role=last.role, name=last.shown_as, signed_on=signed_on)


def is_up_signed_off(course: Course) -> bool:
    """Tell whether the last sign-off of a course lets ``up`` be suggested, and still holds."""
    return sign_off_of(course) is not None
