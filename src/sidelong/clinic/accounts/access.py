"""What each page asks of a visitor: nothing, a sign-in, or a permission.

A page without such a mark is refused by :class:`sidelong.clinic.accounts.middleware.AccessGate`, so
forgetting it locks the page instead of opening it.
"""

from collections.abc import Callable, Collection
from dataclasses import dataclass
from functools import wraps
from typing import Any

from django.db import transaction
from django.http import HttpRequest, HttpResponseBase
from django.urls import Resolver404, resolve

from sidelong.clinic.accounts.models import User
from sidelong.clinic.accounts.roles import Permission

View = Callable[..., HttpResponseBase]


class StaffRequest(HttpRequest):
    """A request that passed the gate: somebody of the staff has signed in."""

    user: User


@dataclass(frozen=True)
class Access:
    """What a page asks.

    Parameters
    ----------
    sign_in : bool
        Whether somebody must have signed in.
    second_factor : bool
        Whether that person must have a second factor, where the installation asks for one.
    permission : Permission or None
        What that person must be allowed.
    """

    sign_in: bool = True
    second_factor: bool = True
    permission: Permission | None = None


def public(view: View) -> View:
    """Open a page to everybody: signing in, style sheets."""
    return _marked(view, Access(sign_in=False, second_factor=False))


def own_account(view: View) -> View:
    """Open a page to whoever signed in, for their own account, in one transaction."""
    # Second factors are saved by a library; their audit row must be saved or lost with them.
    return _marked(transaction.atomic(view), Access(second_factor=False))


def requires(permission: Permission) -> Callable[[View], View]:
    """Open a page to those who hold a permission."""

    def mark(view: View) -> View:
        return _marked(view, Access(permission=permission))

    return mark


def access_of(view: Any) -> Access | None:
    """Give what a page asks; None where it was not said."""
    found = getattr(view, "access", None)
    return found if isinstance(found, Access) else None


def may_open(path: str, held: Collection[Permission]) -> bool:
    """Tell whether a link would lead somebody to a page, and not to a refusal.

    Parameters
    ----------
    path : str
        A path of this clinic.
    held : collection of Permission
        What the reader is allowed.

    Returns
    -------
    bool
        False as well for a path that leads nowhere.
    """
    try:
        access = access_of(resolve(path).func)
    except Resolver404:
        return False
    return access is not None and (access.permission is None or access.permission in held)


def _marked(view: View, access: Access) -> View:
    @wraps(view)
    def page(*args: Any, **kwargs: Any) -> HttpResponseBase:
        return view(*args, **kwargs)

    page.access = access  # type: ignore[attr-defined]
    return page
