"""Registration of sheets with Django."""

from django.apps import AppConfig


class SheetsConfig(AppConfig):
    """Photographs of sheets and what was read from them."""

    name = "sidelong.clinic.sheets"
    label = "sheets"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Tell the way that sheets are looked at before nights, and nights what was noted."""
        # Only now: tables cannot be imported before Django knows all apps.
        from sidelong.clinic.practice.beside import add_teller
        from sidelong.clinic.practice.steps import NIGHTS
        from sidelong.clinic.sheets.note_queries import night_notes
        from sidelong.clinic.sheets.steps import sheet_steps
        from sidelong.clinic.trainees.way import add_further_steps

        add_further_steps(sheet_steps, before=NIGHTS)
        add_teller(night_notes)
