"""Tables of the audit trail: plain text, no foreign keys, never changed."""

from typing import Any, ClassVar, NoReturn

from django.db import models

from sidelong.clinic.audit.chain import Head, Link
from sidelong.clinic.audit.locks import LockedModel, LockedQuerySet, OutsideActError


class _Unchanging(LockedQuerySet):
    def update(self, **_: Any) -> NoReturn:
        raise OutsideActError("the audit trail is never changed")

    def delete(self) -> NoReturn:
        raise OutsideActError("the audit trail is never deleted")


class AuditRow(LockedModel):
    """One act; see :class:`sidelong.clinic.audit.chain.Link` for the fields."""

    number = models.PositiveBigIntegerField(primary_key=True)
    version = models.PositiveSmallIntegerField()
    # Text, since what is hashed must come back from every database to the last character.
    at = models.CharField(max_length=40)
    actor = models.CharField(max_length=80, db_index=True)
    verb = models.CharField(max_length=80)
    subject = models.CharField(max_length=80, db_index=True)
    detail = models.TextField()
    previous = models.CharField(max_length=64)
    digest = models.CharField(max_length=64, unique=True)

    objects: ClassVar[models.Manager[Any]] = models.Manager.from_queryset(_Unchanging)()

    class Meta:
        """In the order of the chain."""

        ordering = ("number",)

    def __str__(self) -> str:
        """Say the act in one line."""
        return f"{self.number} {self.at} {self.actor} {self.verb} {self.subject}"

    @classmethod
    def of(cls, link: Link, *, digest: str) -> "AuditRow":
        """Make the row of a link."""
        return cls(
            number=link.number,
            version=link.version,
            at=link.at,
            actor=link.actor,
            verb=link.verb,
            subject=link.subject,
            detail=link.detail,
            previous=link.previous,
            digest=digest,
        )

    @property
    def link(self) -> Link:
        """The row as a value."""
        return Link(
            number=self.number,
            at=self.at,
            actor=self.actor,
            verb=self.verb,
            subject=self.subject,
            detail=self.detail,
            previous=self.previous,
            digest=self.digest,
            version=self.version,
        )


class AuditHead(LockedModel):
    """The end of the chain, one row: without it a cut tail would not show."""

    ONLY = 1

    id = models.PositiveSmallIntegerField(primary_key=True)
    number = models.PositiveBigIntegerField()
    digest = models.CharField(max_length=64)

    class Meta:
        """One row and no more."""

        constraints = (models.CheckConstraint(condition=models.Q(id=1), name="audit_one_head"),)

    def __str__(self) -> str:
        """Give the head as it is printed."""
        return str(self.head)

    @property
    def head(self) -> Head:
        """The head as a value."""
        return Head(self.number, self.digest)
