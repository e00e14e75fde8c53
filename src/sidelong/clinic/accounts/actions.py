"""What is done to staff accounts, each as one recorded act."""

from collections.abc import Iterable

from allauth.mfa.models import Authenticator
from django.contrib.auth.password_validation import validate_password
from django.contrib.auth.tokens import default_token_generator
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode

from sidelong.clinic.accounts.models import User
from sidelong.clinic.accounts.people import Person, demand
from sidelong.clinic.accounts.roles import Permission, Role
from sidelong.clinic.audit.acts import act
from sidelong.problems import Problem, Refused


def create_staff(*, username: str, display_name: str, roles: Iterable[Role], by: Person) -> User:
    """Add a member of staff, who cannot sign in before accepting an invitation.

    Parameters
    ----------
    username : str
        Kept in lower case; must be new.
    display_name : str
        As colleagues see it.
    roles : iterable of Role
        At least one.
    by : Person
        Who adds.

    Returns
    -------
    User
        The new account.

    Raises
    ------
    Refused
        If the user name is taken or empty, or no role was given.
    """
    demand(Permission.MANAGE_STAFF, of=by)
    name = username.strip().casefold()
    names = sorted(set(roles))
    faults = []
    if not name or not display_name.strip():
        faults.append(_fault("name", "it is empty", "Give a user name and a name to show."))
    if not names:
        faults.append(_fault("roles", "none was given", "Give at least one role."))
    if faults:
        raise Refused(faults)
    with act("staff added", by=by) as doing:
        if User.objects.filter(username=name).exists():
            raise Refused([_fault("user name", "it is taken", "Choose another one.")])
        user = User(username=name, display_name=display_name.strip(), roles=names)
        user.set_unusable_password()
        user.save()
        doing.subject = user.audit_key
        doing.note(roles=names)
    return user


def invite_staff(*, user: User, by: Person) -> str:
    """Make the link with which somebody chooses a password; it works once, for a day.

    Parameters
    ----------
    user : User
        Whom it is for.
    by : Person
        Who invites.

    Returns
    -------
    str
        Two parts of the link, joined by a slash; an older link ends with the password's change.

    Raises
    ------
    Refused
        If the person's access has ended.
    """
    demand(Permission.MANAGE_STAFF, of=by)
    if not user.is_active:
        raise Refused([_fault("access", "it has ended", "Give access back first.")])
    with act("staff invited", by=by, subject=user.audit_key):
        number = urlsafe_base64_encode(force_bytes(user.pk))
        return f"{number}/{default_token_generator.make_token(user)}"


def choose_password(*, user: User, password: str, by: Person) -> None:
    """Set a password; every other session of this person ends with it.

    Parameters
    ----------
    user : User
        Whose password.
    password : str
        As typed; kept as a hash only.
    by : Person
        The person; an administrator cannot choose for others.

    Raises
    ------
    Refused
        If somebody else chooses.
    ValidationError
        If the password is too short or too common.
    """
    if by.audit_key != user.audit_key:
        raise Refused([_fault("password", "it is another person's", "Send an invitation.")])
    validate_password(password, user)
    with act("password chosen", by=by, subject=user.audit_key):
        user.set_password(password)
        user.save(update_fields=["password"])


def change_roles(*, user: User, roles: Iterable[Role], by: Person) -> None:
    """Give a member of staff other roles.

    Parameters
    ----------
    user : User
        Whose roles.
    roles : iterable of Role
        At least one; replaces what was held.
    by : Person
        Who decides.

    Raises
    ------
    Refused
        If no role was given, or nobody would be left to manage staff.
    """
    demand(Permission.MANAGE_STAFF, of=by)
    names = sorted(set(roles))
    if not names:
        raise Refused([_fault("roles", "none was given", "End the person's access instead.")])
    with act("roles changed", by=by, subject=user.audit_key) as doing:
        user = _locked(user)
        doing.note(before=sorted(user.roles), after=names)
        user.roles = names
        user.save(update_fields=["roles"])
        _refuse_no_administrator()


def end_access(*, user: User, by: Person) -> None:
    """End somebody's access at once, in every open session too.

    Parameters
    ----------
    user : User
        Whose access.
    by : Person
        Who decides.
    """
    demand(Permission.MANAGE_STAFF, of=by)
    with act("access ended", by=by, subject=user.audit_key):
        user = _locked(user)
        user.is_active = False
        user.save(update_fields=["is_active"])
        _refuse_no_administrator()


def give_access_back(*, user: User, by: Person) -> None:
    """Let somebody sign in again whose access had ended.

    Parameters
    ----------
    user : User
        Whose access.
    by : Person
        Who decides.
    """
    demand(Permission.MANAGE_STAFF, of=by)
    with act("access given back", by=by, subject=user.audit_key):
        user = _locked(user)
        user.is_active = True
        user.save(update_fields=["is_active"])


def remove_second_factors(*, user: User, by: Person) -> None:
    """Take away second factors, for somebody who lost phone and codes; the password ends as well.

    Parameters
    ----------
    user : User
        Who lost them.
    by : Person
        Who decides, having made sure who is asking.
    """
    demand(Permission.MANAGE_STAFF, of=by)
    with act("second factors removed", by=by, subject=user.audit_key) as doing:
        user = _locked(user)
        held = Authenticator.objects.filter(user=user)
        doing.note(kinds=sorted(held.values_list("type", flat=True)))
        held.delete()
        # A stolen password alone must not be enough to set up a second factor of the thief's.
        user.set_unusable_password()
        user.save(update_fields=["password"])


def _locked(user: User) -> User:
    """Read an account again, and hold it until the act ends."""
    held: User = User.objects.select_for_update().get(pk=user.pk)
    return held


def _refuse_no_administrator() -> None:
    """Undo an act after which nobody could manage staff."""
    active = User.objects.filter(is_active=True)
    if not any(Permission.MANAGE_STAFF in user.permissions for user in active):
        what = "nobody would be left to manage staff"
        raise Refused([_fault("roles", what, "Make somebody else administrator first.")])


def _fault(where: str, what: str, remedy: str) -> Problem:
    return Problem(f"staff account, {where}", what, remedy, "staff")
