"""Who may do what: one table of roles and permissions, and nothing else.

A person holds one role or more; what one of them allows is allowed. `clinician` is held beside
another role by people whose licence lets them decide about practice. Administrators keep the
installation running: they see staff and the audit trail, and no trainee.
"""

from collections.abc import Iterable
from enum import StrEnum


class Role(StrEnum):
    """What somebody is in the programme."""

    COACH = "coach"
    LEAD = "lead"
    PHARMACIST = "pharmacist"
    ANALYST = "analyst"
    ADMINISTRATOR = "administrator"
    CLINICIAN = "clinician"


class Permission(StrEnum):
    """What can be allowed."""

    SEE_TODAY = "see today's page"
    SEE_TRAINEES = "see trainees by code"
    SEE_NAMES = "see names, birth dates and contacts"
    FIND_BY_NAME = "find a trainee by name"
    ENTER_TRAINEES = "enter trainees and referrals"
    CHANGE_NAMES = "change names, birth dates and contacts"
    RUN_COURSES = "open and close courses"
    DECIDE = "decide about practice"
    RECORD_VISITS = "record teaching visits"
    ISSUE_PLANS = "issue plans and make booklets"
    TAKE_UP_PROTOCOLS = "take a protocol or a ladder into use"
    SEE_RESULTS = "see nights, events and results"
    RECORD_NIGHTS = "record nights"
    RECORD_EVENTS = "record events"
    ANSWER_EVENTS = "answer an event that locked practice"
    SIGN_RESULTS = "sign a result"
    SIGN_OFF_UP = "sign, or take back, that up may be suggested"
    BEGIN_FOLLOW_UPS = "begin a follow-up, which locks the estimate"
    RECORD_FIRST_DOSES = "record the first real dose"
    SEE_PROMISES = "see the programme's promises kept"
    RECORD_CONSENT = "record whether nights may be learned from"
    FIT_COHORT = "have the clinic's own values learned anew"
    SEE_STAFF = "see staff accounts"
    MANAGE_STAFF = "invite staff, change roles, end access"
    SEE_TRAIL = "review the audit trail"
    TURN_KEYS = "seal names with a new key"
    CLEAR_PHOTOGRAPHS = "delete photographs after the site's time"


_BY_CODE = frozenset({Permission.SEE_TODAY, Permission.SEE_TRAINEES, Permission.SEE_RESULTS})
_BY_NAME = _BY_CODE | {Permission.SEE_NAMES, Permission.FIND_BY_NAME}
_TEACHING = _BY_NAME | {
    Permission.ENTER_TRAINEES,
    Permission.CHANGE_NAMES,
    Permission.RUN_COURSES,
    Permission.RECORD_VISITS,
    Permission.ISSUE_PLANS,
    Permission.RECORD_NIGHTS,
    Permission.RECORD_EVENTS,
    Permission.BEGIN_FOLLOW_UPS,
    Permission.RECORD_FIRST_DOSES,
    Permission.RECORD_CONSENT,
}

ALLOWED: dict[Role, frozenset[Permission]] = {
    Role.COACH: _TEACHING,
    Role.LEAD: _TEACHING
    | {
        Permission.TAKE_UP_PROTOCOLS,
        Permission.SEE_PROMISES,
        Permission.FIT_COHORT,
        Permission.SEE_STAFF,
        Permission.SEE_TRAIL,
    },
    Role.PHARMACIST: _BY_NAME | {Permission.RECORD_EVENTS, Permission.RECORD_FIRST_DOSES},
    Role.ANALYST: _BY_CODE | {Permission.SEE_PROMISES, Permission.FIT_COHORT},
    Role.ADMINISTRATOR: frozenset(
        {
            Permission.SEE_TODAY,
            Permission.SEE_STAFF,
            Permission.MANAGE_STAFF,
            Permission.SEE_TRAIL,
            Permission.TURN_KEYS,
            Permission.CLEAR_PHOTOGRAPHS,
        }
    ),
    Role.CLINICIAN: _BY_NAME
    | {
        Permission.DECIDE,
        Permission.RECORD_EVENTS,
        Permission.ANSWER_EVENTS,
        Permission.SIGN_RESULTS,
        Permission.SIGN_OFF_UP,
        Permission.BEGIN_FOLLOW_UPS,
        Permission.RECORD_FIRST_DOSES,
    },
}


def permissions_of(roles: Iterable[Role]) -> frozenset[Permission]:
    """Give everything that somebody with these roles may do.

    Parameters
    ----------
    roles : iterable of Role
        Roles held by one person.

    Returns
    -------
    frozenset of Permission
        The union; empty without a role.
    """
    return frozenset().union(*(ALLOWED[role] for role in roles))


def matrix() -> str:
    """Print the whole table: a row for every permission, a column for every role."""
    lines = ["| may | " + " | ".join(Role) + " |", "|---|" + "---|" * len(Role)]
    for permission in Permission:
        marks = ("yes" if permission in ALLOWED[role] else "" for role in Role)
        lines.append(f"| {permission} | " + " | ".join(marks) + " |")
    return "\n".join(lines) + "\n"
