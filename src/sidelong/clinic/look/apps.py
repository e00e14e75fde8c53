"""Registration of the pages' look with Django."""

from django.apps import AppConfig


class LookConfig(AppConfig):
    """Template tags, and the values that templates in ``clinic/templates/parts`` draw."""

    name = "sidelong.clinic.look"
    label = "look"
