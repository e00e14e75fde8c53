"""Registration of sheets with Django."""

from django.apps import AppConfig


class SheetsConfig(AppConfig):
    """Photographs of sheets and what was read from them."""

    name = "sidelong.clinic.sheets"
    label = "sheets"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Tell the way that sheets are looked at before nights are written down."""
        # Only now: tables cannot be imported before Django knows all apps.
        from sidelong.clinic.practice.steps import NIGHTS
        from sidelong.clinic.sheets.steps import sheet_steps
        from sidelong.clinic.trainees.way import add_further_steps

        add_further_steps(sheet_steps, before=NIGHTS)
