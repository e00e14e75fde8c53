"""Registration of the invented clinic's own pages with Django."""

from django.apps import AppConfig


class DemonstrationConfig(AppConfig):
    """Coming in as any role; its routes exist in an invented clinic alone."""

    name = "sidelong.clinic.demonstration"
    label = "demonstration"
