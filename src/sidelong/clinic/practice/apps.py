"""Registration of practice with Django."""

from django.apps import AppConfig


class PracticeConfig(AppConfig):
    """Nights, events, results."""

    name = "sidelong.clinic.practice"
    label = "practice"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Tell the steps below what happened at home, and which steps come after the booklet."""
        # Only now: tables cannot be imported before Django knows all apps.
        from sidelong.clinic.practice.evidence import events_of_codes
        from sidelong.clinic.practice.steps import practice_steps
        from sidelong.clinic.trainees.happened import add_event_source
        from sidelong.clinic.trainees.way import add_further_steps

        add_event_source(events_of_codes)
        add_further_steps(practice_steps)
