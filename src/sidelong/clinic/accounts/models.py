"""Staff accounts."""

from typing import Any, ClassVar

from django.contrib.auth.base_user import AbstractBaseUser
from django.contrib.auth.hashers import check_password
from django.db import models
from django.db.models.functions import Lower

from sidelong.clinic.accounts.roles import Permission, Role, permissions_of
from sidelong.clinic.audit.acts import act
from sidelong.clinic.audit.locks import LockedModel, LockedQuerySet


class _Staff(models.Manager.from_queryset(LockedQuerySet)):  # type: ignore[misc]
    """Finds staff the way that sign-in asks for them."""

    def get_by_natural_key(self, username: str | None) -> "User":
        """Find by user name, in whatever case it was typed."""
        found: User = self.get(username=(username or "").casefold())
        return found

    async def aget_by_natural_key(self, username: str | None) -> "User":
        """Find by user name without blocking; Django asks for both forms."""
        found: User = await self.aget(username=(username or "").casefold())
        return found


class User(LockedModel, AbstractBaseUser):
    """One member of staff.

    The trail says when somebody signed in, so there is no column for it here.
    """

    username = models.CharField("user name", max_length=40, unique=True)
    display_name = models.CharField("name as shown to colleagues", max_length=80)
    roles = models.JSONField(default=list)
    is_active = models.BooleanField("may sign in", default=True)
    last_login = None

    objects: ClassVar[_Staff] = _Staff()

    USERNAME_FIELD = "username"
    REQUIRED_FIELDS: ClassVar[list[str]] = []

    class Meta:
        """By user name."""

        ordering = ("username",)
        verbose_name = "member of staff"
        verbose_name_plural = "staff"
        constraints = (
            models.CheckConstraint(
                condition=models.Q(username=Lower("username")),
                name="accounts_username_lower_case",
            ),
        )

    def __str__(self) -> str:
        """Show the name that colleagues see."""
        return self.display_name

    def get_full_name(self) -> str:
        """Show the name that colleagues see."""
        return self.display_name

    @property
    def audit_key(self) -> str:
        """Key in the audit trail: a number, no name."""
        return f"staff:{self.pk}"

    @property
    def role_set(self) -> frozenset[Role]:
        """Roles held."""
        return frozenset(Role(name) for name in self.roles)

    @property
    def permissions(self) -> frozenset[Permission]:
        """Everything that this person may do now; nothing once access has ended."""
        return permissions_of(self.role_set) if self.is_active else frozenset()

    def check_password(self, raw_password: str | None) -> bool:
        """Compare a password, and renew its hash where the method has become stronger."""

        def renew(password: str) -> None:
            with act("password hash renewed", by=self, subject=self.audit_key):
                self.set_password(password)
                self.save(update_fields=["password"])

        return check_password(raw_password, self.password, renew)

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Save, inside an act; a password is never kept as typed."""
        super().save(*args, **kwargs)
        self._password = None
