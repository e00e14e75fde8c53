"""Who acts when it is not somebody who signed in, and how a permission is demanded."""

import logging
from dataclasses import dataclass
from typing import Protocol

from django.core.exceptions import PermissionDenied

from sidelong.clinic.accounts.roles import Permission, Role, permissions_of

_security = logging.getLogger("sidelong.security")


class NotPermitted(PermissionDenied):
    """Somebody may not do what was asked for."""


class Person(Protocol):
    """Who acts, with what they may do."""

    @property
    def audit_key(self) -> str:
        """Plain text that names the actor in the trail for ever."""

    @property
    def permissions(self) -> frozenset[Permission]:
        """Everything that is allowed now."""


@dataclass(frozen=True)
class Operator:
    """Whoever has a terminal on the machine; may do what an administrator may, without pages."""

    audit_key: str = "operator"

    @property
    def permissions(self) -> frozenset[Permission]:
        """Those of an administrator."""
        return permissions_of([Role.ADMINISTRATOR])


@dataclass(frozen=True)
class Visitor:
    """Somebody who has not signed in; may do nothing, but is seen."""

    audit_key: str = "visitor"

    @property
    def permissions(self) -> frozenset[Permission]:
        """None."""
        return frozenset()


def demand(permission: Permission, *, of: Person) -> None:
    """Go on only if somebody may.

    Parameters
    ----------
    permission : Permission
        What is needed.
    of : Person
        Who asks.

    Raises
    ------
    NotPermitted
        If it is not allowed; the refusal is logged.
    """
    if permission not in of.permissions:
        refused = {"actor": of.audit_key, "permission": permission.name}
        _security.warning("not permitted", extra={"facts": refused})
        raise NotPermitted(f"This needs somebody who may {permission}.")
