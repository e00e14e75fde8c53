"""Registration of sheets with Django."""

from django.apps import AppConfig


class SheetsConfig(AppConfig):
    """Photographs of sheets and what was read from them."""

    name = "sidelong.clinic.sheets"
    label = "sheets"
    default_auto_field = "django.db.models.BigAutoField"
