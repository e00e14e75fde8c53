"""Second factors in the audit trail: the library saves them, so it has to tell us.

These are the library's own announcements, made inside the transaction that ``own_account`` opened
(:mod:`sidelong.clinic.accounts.access`): when the audit row cannot be written, the second factor is
not saved either.
"""

from typing import Any

from allauth.mfa.models import Authenticator
from allauth.mfa.signals import (
    authentication_failed,
    authenticator_added,
    authenticator_removed,
    authenticator_reset,
)

from sidelong.clinic.accounts.models import User
from sidelong.clinic.accounts.people import Visitor
from sidelong.clinic.audit.acts import act


def has_second_factor(user: User) -> bool:
    """Tell whether somebody holds a second factor; recovery codes alone are none."""
    kinds = (Authenticator.Type.TOTP, Authenticator.Type.WEBAUTHN)
    return bool(Authenticator.objects.filter(user=user, type__in=kinds).exists())


def listen() -> None:
    """Write every change of a second factor into the trail."""
    authenticator_added.connect(_added, dispatch_uid="trail of second factors")
    authenticator_removed.connect(_removed, dispatch_uid="trail of second factors")
    authenticator_reset.connect(_renewed, dispatch_uid="trail of second factors")
    authentication_failed.connect(_failed, dispatch_uid="trail of second factors")


def _added(*, user: User, authenticator: Any, **_: Any) -> None:
    with act("second factor added", by=user, subject=user.audit_key) as doing:
        doing.note(kind=str(authenticator.type))


def _removed(*, user: User, authenticator: Any, **_: Any) -> None:
    with act("second factor removed", by=user, subject=user.audit_key) as doing:
        doing.note(kind=str(authenticator.type))


def _renewed(*, user: User, authenticator: Any, **_: Any) -> None:
    with act("second factor renewed", by=user, subject=user.audit_key) as doing:
        doing.note(kind=str(authenticator.type))


def _failed(*, user: User, **_: Any) -> None:
    with act("second factor refused", by=Visitor(), subject=user.audit_key):
        pass
