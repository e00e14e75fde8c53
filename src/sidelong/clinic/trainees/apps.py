"""Registration of trainees with Django."""

from django.apps import AppConfig


class TraineesConfig(AppConfig):
    """Trainees, referrals and courses."""

    name = "sidelong.clinic.trainees"
    label = "trainees"
    default_auto_field = "django.db.models.BigAutoField"
