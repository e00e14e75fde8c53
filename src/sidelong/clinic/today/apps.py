"""Registration of today's page with Django."""

from django.apps import AppConfig


class TodayConfig(AppConfig):
    """Where everybody begins."""

    name = "sidelong.clinic.today"
    label = "today"
