"""Registration of protocols with Django."""

from django.apps import AppConfig


class ProtocolsConfig(AppConfig):
    """The site's protocol and ladder."""

    name = "sidelong.clinic.protocols"
    label = "protocols"
    default_auto_field = "django.db.models.BigAutoField"
