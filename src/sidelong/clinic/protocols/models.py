"""Tables of protocols and ladders: whole documents, never changed."""

from typing import Any, ClassVar, NoReturn

from django.db import models

from sidelong.clinic.audit.locks import LockedModel, LockedQuerySet, OutsideActError


class _Unchanging(LockedQuerySet):
    def update(self, **_: Any) -> NoReturn:
        raise OutsideActError("a document that was in use is never changed")

    def delete(self) -> NoReturn:
        raise OutsideActError("a document that was in use is never deleted")


class _Document(LockedModel):
    site = models.CharField(max_length=40)
    # TOML as the program writes it: one text for one value, whatever file it came from.
    text = models.TextField()
    fingerprint = models.CharField(max_length=64)
    taken_up = models.DateTimeField()
    taken_up_by = models.CharField("audit key of who took it into use", max_length=80)

    objects: ClassVar[models.Manager[Any]] = models.Manager.from_queryset(_Unchanging)()

    class Meta:
        """Only a base."""

        abstract = True


class ProtocolVersion(_Document):
    """One signed protocol; see :class:`sidelong.training.protocol.Protocol`."""

    version = models.CharField(max_length=60)

    class Meta:
        """In the order in which they were taken up; a version names one text."""

        ordering = ("site", "pk")
        constraints = (
            models.UniqueConstraint(fields=("site", "version"), name="protocols_version_once"),
        )

    def __str__(self) -> str:
        """Show site and version."""
        return f"protocol {self.version} of {self.site}"


class LadderVersion(_Document):
    """One ladder of pieces; see :class:`sidelong.training.ladder.Ladder`."""

    number = models.PositiveIntegerField()

    class Meta:
        """Numbered from 1 at every site."""

        ordering = ("site", "number")
        constraints = (
            models.UniqueConstraint(fields=("site", "number"), name="protocols_ladder_once"),
        )

    def __str__(self) -> str:
        """Show site and number."""
        return f"ladder {self.number} of {self.site}"
