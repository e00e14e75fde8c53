"""The sealed column under the name by which the first migration of identities finds it."""

from sidelong.clinic.sealed_columns import SealedField

__all__ = ["SealedField"]
