"""Registration of identities with Django."""

from django.apps import AppConfig


class IdentitiesConfig(AppConfig):
    """Names, birth dates and contacts."""

    name = "sidelong.clinic.identities"
    label = "identities"
    default_auto_field = "django.db.models.BigAutoField"
