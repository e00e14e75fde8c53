"""Who works at the invented clinic: one person for every role, and one who may do most of it."""

from dataclasses import dataclass

from sidelong.clinic.accounts.actions import choose_password, create_staff
from sidelong.clinic.accounts.models import User
from sidelong.clinic.accounts.people import Operator
from sidelong.clinic.accounts.roles import Role

PASSWORD = "all-of-this-is-invented"  # noqa: S105  (shown on every page of an invented clinic)


@dataclass(frozen=True)
class Member:
    """One invented member of staff.

    Parameters
    ----------
    username, display_name : str
        As colleagues see them.
    roles : tuple of Role
        What the person holds.
    title : str
        The roles in words, for a button.
    says : str
        What there is to do in these roles, in a sentence.
    """

    username: str
    display_name: str
    roles: tuple[Role, ...]
    title: str
    says: str


LEAD_CLINICIAN = Member(
    "lead-clinician",
    "Robin Invented",
    (Role.LEAD, Role.CLINICIAN),
    "Lead and clinician",
    "The whole way alone: refers, decides, teaches, plans, records and signs. Start here.",
)
LEAD = Member(
    "lead",
    "Kim Invented",
    (Role.LEAD,),
    "Lead",
    "Runs the programme: its protocol, its pieces, its trainees. A clinician decides.",
)
COACH = Member(
    "coach",
    "Noor Invented",
    (Role.COACH,),
    "Coach",
    "Teaches, issues plans and booklets, types the nights that families bring back.",
)
CLINICIAN = Member(
    "clinician",
    "Sasha Invented",
    (Role.CLINICIAN,),
    "Clinician",
    "Decides who may practise, answers events that locked practice, signs results.",
)
PHARMACIST = Member(
    "pharmacist",
    "Mika Invented",
    (Role.PHARMACIST,),
    "Pharmacist",
    "Reads results before the real medicine is tried, and records events.",
)
ANALYST = Member(
    "analyst",
    "Toni Invented",
    (Role.ANALYST,),
    "Analyst",
    "Sees nights and results by code alone; no names.",
)
ADMINISTRATOR = Member(
    "administrator",
    "Jo Invented",
    (Role.ADMINISTRATOR,),
    "Administrator",
    "Keeps accounts and the record of what was done; sees no trainee.",
)
STAFF = (LEAD_CLINICIAN, LEAD, COACH, CLINICIAN, PHARMACIST, ANALYST, ADMINISTRATOR)


@dataclass(frozen=True)
class Hired:
    """Those in whose names the invented clinic's past was written."""

    lead: User
    coach: User
    clinician: User


def hire_staff() -> Hired:
    """Add everybody, with the one password of all of them, as a terminal would.

    Returns
    -------
    Hired
        Those who act.
    """
    found = {member.username: _hire(member) for member in STAFF}
    return Hired(
        lead=found[LEAD.username],
        coach=found[COACH.username],
        clinician=found[CLINICIAN.username],
    )


def _hire(member: Member) -> User:
    user = create_staff(
        username=member.username,
        display_name=member.display_name,
        roles=member.roles,
        by=Operator(),
    )
    choose_password(user=user, password=PASSWORD, by=user)
    return user
