"""Registration of practice with Django."""

from django.apps import AppConfig


class PracticeConfig(AppConfig):
    """Nights, events, results."""

    name = "sidelong.clinic.practice"
    label = "practice"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Tell the steps below what happened at home."""
        # Only now: tables cannot be imported before Django knows all apps.
        from sidelong.clinic.practice.evidence import events_of_codes
        from sidelong.clinic.trainees.happened import add_event_source

        add_event_source(events_of_codes)
