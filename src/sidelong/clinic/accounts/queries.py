"""Reading staff accounts, and the audit trail for those who may review it."""

from sidelong.clinic.accounts.models import User
from sidelong.clinic.accounts.people import Person, demand
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.audit.chain import Link
from sidelong.clinic.audit.queries import links_about


def list_staff(*, seen_by: Person) -> tuple[User, ...]:
    """Give all members of staff, by user name.

    Parameters
    ----------
    seen_by : Person
        Who looks.

    Returns
    -------
    tuple of User
        Those whose access ended as well.
    """
    demand(Permission.SEE_STAFF, of=seen_by)
    return tuple(User.objects.all())


def trail_about(subject: str, *, seen_by: Person) -> tuple[Link, ...]:
    """Give what was done to one subject, oldest first.

    Parameters
    ----------
    subject : str
        Key as in the trail, for example ``"trainee:SL-7K3PX"``.
    seen_by : Person
        Who reviews.

    Returns
    -------
    tuple of Link
        Rows of the trail.
    """
    demand(Permission.SEE_TRAIL, of=seen_by)
    return tuple(links_about(subject))
