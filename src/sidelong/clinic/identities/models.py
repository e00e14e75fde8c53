"""Tables of identities: everything sealed, keyed by the trainee's code."""

from django.db import models

from sidelong.clinic.audit.locks import LockedModel
from sidelong.clinic.sealed_columns import SealedField


class SealedIdentity(LockedModel):
    """One trainee's identity; see :class:`sidelong.clinic.identities.identity.Identity`."""

    # The code is the row's key, since what is sealed must be bound to a key before it is saved.
    code = models.CharField(max_length=16, primary_key=True)
    given_names = SealedField()
    family_name = SealedField()
    birth_date = SealedField()
    supporter_name = SealedField()
    phone = SealedField()
    email = SealedField()
    address = SealedField()

    class Meta:
        """By code."""

        ordering = ("code",)
        verbose_name_plural = "sealed identities"

    def __str__(self) -> str:
        """Show the code."""
        return self.code


class IndexToken(LockedModel):
    """One keyed hash under which somebody is found."""

    identity = models.ForeignKey(SealedIdentity, on_delete=models.CASCADE, related_name="tokens")
    key_name = models.CharField(max_length=40)
    token = models.CharField(max_length=64, db_index=True)

    class Meta:
        """A hash stands once for each person and key."""

        constraints = (
            models.UniqueConstraint(
                fields=("identity", "key_name", "token"), name="identities_token_once"
            ),
        )

    def __str__(self) -> str:
        """Show whose it is."""
        return f"token of {self.identity_id}"
