"""Registration of staff accounts with Django."""

from django.apps import AppConfig


class AccountsConfig(AppConfig):
    """Staff, roles and sign-in."""

    name = "sidelong.clinic.accounts"
    label = "accounts"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Have changes of second factors written into the audit trail."""
        from sidelong.clinic.accounts import second_factors  # models are not there any earlier

        second_factors.listen()
