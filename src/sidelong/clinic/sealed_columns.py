"""A column that takes sealed values only."""

from typing import TYPE_CHECKING, Any

from django.db import models

from sidelong.clinic.sealing import Place, sealed_with

if TYPE_CHECKING:  # only the type's description takes parameters, not the class
    _Bytes = models.BinaryField[bytes, bytes]
else:
    _Bytes = models.BinaryField


class SealedField(_Bytes):
    """Bytes made by :func:`sidelong.clinic.sealing.seal`; anything else is a fault in the program.

    Nothing is opened here: a value is bound to its row, and who may read it is asked elsewhere, so
    both happen in actions and queries.
    """

    description = "Sealed value"

    def __init__(self, **kwargs: Any) -> None:
        kwargs["editable"] = False
        super().__init__(**kwargs)

    def deconstruct(self) -> Any:
        """Leave out of migrations what is always so."""
        name, path, args, kwargs = super().deconstruct()
        kwargs.pop("editable", None)
        return name, path, args, kwargs

    def get_db_prep_value(self, value: Any, connection: Any, prepared: bool = False) -> Any:
        """Refuse to write what is not sealed.

        Returns
        -------
        bytes or None
            As the database takes it.

        Raises
        ------
        Refused
            If a plain value would have reached the database.
        """
        if value is not None:
            sealed_with(bytes(value), place=Place("a sealed column", self.column or "", ""))
        return super().get_db_prep_value(value, connection, prepared)
