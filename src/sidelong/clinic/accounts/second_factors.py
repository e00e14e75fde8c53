"""Second factors in the audit trail: the library saves them, so their table is watched.

The library announces an addition only after it was committed, too late for a trail that must be
written or lost together with what it tells. Hence these are the table's own signals, which come
inside the transaction that ``own_account`` opened (:mod:`sidelong.clinic.accounts.access`).
"""

from typing import Any

from allauth.mfa.models import Authenticator
from allauth.mfa.signals import authentication_failed
from django.db.models.signals import post_delete, post_save

from sidelong.clinic.accounts.models import User
from sidelong.clinic.accounts.people import Visitor
from sidelong.clinic.audit.acts import act
from sidelong.clinic.audit.locks import is_act_open

_OURS = "trail of second factors"


def has_second_factor(user: User) -> bool:
    """Tell whether somebody holds a second factor; recovery codes alone are none."""
    kinds = (Authenticator.Type.TOTP, Authenticator.Type.WEBAUTHN)
    return bool(Authenticator.objects.filter(user=user, type__in=kinds).exists())


def listen() -> None:
    """Write every second factor that comes, goes or is guessed at into the trail."""
    post_save.connect(_saved, sender=Authenticator, dispatch_uid=_OURS)
    post_delete.connect(_deleted, sender=Authenticator, dispatch_uid=_OURS)
    authentication_failed.connect(_failed, dispatch_uid=_OURS)


def _saved(*, instance: Any, created: bool, **_: Any) -> None:
    # Later savings note that a factor was used; signing in has a row of its own.
    if created:
        _record("second factor added", instance)


def _deleted(*, instance: Any, **_: Any) -> None:
    _record("second factor removed", instance)


def _record(verb: str, authenticator: Any) -> None:
    if is_act_open():  # an act of ours, done by somebody else, tells it itself
        return
    user = authenticator.user
    with act(verb, by=user, subject=user.audit_key) as doing:
        doing.note(kind=str(authenticator.type))


def _failed(*, user: User, **_: Any) -> None:
    with act("second factor refused", by=Visitor(), subject=user.audit_key):
        pass
