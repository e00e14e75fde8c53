"""The locked door: a row is saved inside a recorded act, or not at all.

Tables made with :class:`LockedModel` refuse to be changed outside an act, so no write can forget
its trail. Acts are opened in :mod:`sidelong.clinic.audit.acts`.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any, ClassVar

from django.db import models

_open_acts: ContextVar[int] = ContextVar("open_acts", default=0)


class OutsideActError(RuntimeError):
    """A table was written to outside an act: a fault in the program."""


@contextmanager
def unlocked() -> Iterator[None]:
    """Let rows be written meanwhile; for :func:`sidelong.clinic.audit.acts.act` alone.

    Yields
    ------
    None
        Nothing.
    """
    token = _open_acts.set(_open_acts.get() + 1)
    try:
        yield
    finally:
        _open_acts.reset(token)


def is_act_open() -> bool:
    """Tell whether an act is under way."""
    return _open_acts.get() > 0


def require_act() -> None:
    """Refuse to go on outside an act.

    Raises
    ------
    OutsideActError
        If no act is under way.
    """
    if not is_act_open():
        raise OutsideActError("rows are written by actions only; see docs/decisions/0003")


class LockedQuerySet(models.QuerySet[Any]):
    """Rows that are changed inside an act only."""

    def update(self, **kwargs: Any) -> int:
        """Change rows, inside an act."""
        require_act()
        return super().update(**kwargs)

    def delete(self) -> tuple[int, dict[str, int]]:
        """Delete rows, inside an act."""
        require_act()
        return super().delete()

    def bulk_create(self, *args: Any, **kwargs: Any) -> list[Any]:
        """Add rows, inside an act."""
        require_act()
        return super().bulk_create(*args, **kwargs)


class LockedModel(models.Model):
    """A table whose rows are written inside an act only."""

    objects: ClassVar[models.Manager[Any]] = models.Manager.from_queryset(LockedQuerySet)()

    class Meta:
        """Only a base."""

        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Save the row, inside an act."""
        require_act()
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        """Delete the row, inside an act."""
        require_act()
        return super().delete(*args, **kwargs)
