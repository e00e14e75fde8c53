"""Signing that ``up`` may be suggested to a trainee, and taking that back."""

from datetime import UTC, datetime

from sidelong.clinic.accounts.people import demand
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.audit.acts import act
from sidelong.clinic.audit.subjects import subject_of
from sidelong.clinic.practice.actions import Signer
from sidelong.clinic.practice.evidence import events_of_codes, protocol_for
from sidelong.clinic.practice.models import UpSignOff
from sidelong.clinic.practice.nights import find_course, known_nights
from sidelong.clinic.practice.up_sign_off import UpMeaning, UpSigned, is_up_signed_off
from sidelong.clinic.trainees.models import Course
from sidelong.problems import Problem, Refused
from sidelong.training.event import barred_positions
from sidelong.training.position import Position
from sidelong.training.protocol import SWALLOWING_SPECIALIST


def sign_off_up(
    *, code: str, course: int, role: str, reason: str, now: datetime, by: Signer
) -> int:
    """Put a swallowing specialist's name under it that ``up`` may be suggested to one trainee.

    Parameters
    ----------
    code : str
        The trainee's code.
    course : int
        Number of the course.
    role : str
        As what it is signed; it has to be a swallowing specialist, as in the protocol.
    reason : str
        What for; it stays in the table of sign-offs and enters neither trail nor message.
    now : datetime
        When, with its offset.
    by : Signer
        Who signs.

    Returns
    -------
    int
        Key of the sign-off.

    Raises
    ------
    Refused
        If nobody of that role signs, no reason is given, the plan or the protocol of its time
        leaves ``up`` out, or ``up`` had a safety event.
    """
    demand(Permission.SIGN_OFF_UP, of=by)
    with act("up signed off", by=by, subject=subject_of(code)) as doing:
        row = _held(code, course)
        faults = [*_signer_faults(code, role, reason), *_position_faults(row)]
        if faults:
            raise Refused(faults)
        kept = _keep(row, UpMeaning.MAY_SUGGEST, role=role, reason=reason, now=now, by=by)
        doing.note(course=course, protocol=kept.protocol, digest=kept.digest)
    return int(kept.pk)


def withdraw_up(*, code: str, course: int, reason: str, now: datetime, by: Signer) -> int:
    """Take a sign-off back: from now on ``up`` is not suggested.

    Parameters
    ----------
    code : str
        The trainee's code.
    course : int
        Number of the course.
    reason : str
        Why.
    now : datetime
        When, with its offset.
    by : Signer
        Any clinician: taking back is always on the safe side.

    Returns
    -------
    int
        Key of the withdrawal.

    Raises
    ------
    Refused
        If there is nothing to take back, or no reason is given.
    """
    demand(Permission.SIGN_OFF_UP, of=by)
    with act("sign-off for up withdrawn", by=by, subject=subject_of(code)) as doing:
        row = _held(code, course)
        faults = _reason_faults(code, reason)
        if not is_up_signed_off(row):
            faults.append(_fault(code, "nobody has signed off `up`", "There is nothing to do."))
        if faults:
            raise Refused(faults)
        kept = _keep(row, UpMeaning.WITHDRAWN, role="clinician", reason=reason, now=now, by=by)
        doing.note(course=course, digest=kept.digest)
    return int(kept.pk)


def _keep(
    row: Course, meaning: UpMeaning, *, role: str, reason: str, now: datetime, by: Signer
) -> UpSignOff:
    signed = UpSigned(
        trainee=row.trainee_id,
        course=str(row.number),
        meaning=meaning,
        reason=reason.strip(),
        role=role.strip().casefold(),
        protocol=protocol_for(row).fingerprint,
        signed=now.astimezone(UTC).isoformat(timespec="seconds"),
        signed_by=by.audit_key,
    )
    kept = UpSignOff(
        course=row,
        meaning=signed.meaning,
        reason=signed.reason,
        role=signed.role,
        protocol=signed.protocol,
        signed=signed.signed,
        signed_by=signed.signed_by,
        shown_as=by.display_name,
        digest=signed.digest,
    )
    kept.save()
    return kept


def _held(code: str, number: int) -> Course:
    held: Course = Course.objects.select_for_update().get(pk=find_course(code, number).pk)
    return held


def _signer_faults(code: str, role: str, reason: str) -> list[Problem]:
    faults = _reason_faults(code, reason)
    if role.strip().casefold() != SWALLOWING_SPECIALIST:
        remedy = f"Let a {SWALLOWING_SPECIALIST} sign."
        faults.append(_fault(code, f"it is not signed as a {SWALLOWING_SPECIALIST}", remedy))
    return faults


def _reason_faults(code: str, reason: str) -> list[Problem]:
    if reason.strip():
        return []
    return [_fault(code, "there is no reason", "Say in a sentence what for.")]


def _position_faults(row: Course) -> list[Problem]:
    code = row.trainee_id
    faults = []
    if Position.UP not in known_nights(row).plan.positions:
        what = "`up` is not in the last version of the plan"
        faults.append(_fault(code, what, "There is nothing to sign off."))
    protocol = protocol_for(row)
    if Position.UP not in protocol.positions:
        what = f'protocol "{protocol.version}" does not allow `up`'
        faults.append(_fault(code, what, "Have the protocol signed for `up` first."))
    if Position.UP in barred_positions(events_of_codes([code])).get(code, frozenset()):
        remedy = "It stays closed, whoever signs."
        faults.append(_fault(code, "`up` had a safety event", remedy))
    return faults


def _fault(code: str, what: str, remedy: str) -> Problem:
    return Problem(f"sign-off of {code}", what, remedy, "up-sign-off")
