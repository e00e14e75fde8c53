"""Registration of practice with Django."""

from django.apps import AppConfig


class PracticeConfig(AppConfig):
    """Nights, events, results."""

    name = "sidelong.clinic.practice"
    label = "practice"
    default_auto_field = "django.db.models.BigAutoField"
