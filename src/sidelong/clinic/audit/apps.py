"""Registration of the audit trail with Django."""

from django.apps import AppConfig
from django.core import checks

from sidelong.clinic.checks import (
    check_database_is_durable,
    check_installation_exists,
    check_key_ring,
)


class AuditConfig(AppConfig):
    """The lowest app; it also registers what must hold before the clinic starts."""

    name = "sidelong.clinic.audit"
    label = "audit"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Register the start-up checks."""
        checks.register(check_installation_exists)
        checks.register(check_key_ring)
        checks.register(check_database_is_durable, checks.Tags.database)
