"""Forms of staff accounts."""

from typing import TYPE_CHECKING, Any

from allauth.account.forms import ChangePasswordForm, ReauthenticateForm
from django.contrib.auth.forms import SetPasswordForm

from sidelong.clinic.accounts.actions import choose_password
from sidelong.clinic.accounts.models import User

if TYPE_CHECKING:  # only the type's description takes parameters, not the class
    _ForUser = SetPasswordForm[User]
else:
    _ForUser = SetPasswordForm


class WelcomeForm(_ForUser):
    """A new member of staff chooses a password."""

    def save(self, commit: bool = True) -> User:
        """Choose the password, as a recorded act."""
        user: User = self.user
        choose_password(user=user, password=self.cleaned_data["new_password1"], by=user)
        return user


class NewPasswordForm(ChangePasswordForm):  # type: ignore[misc]
    """Somebody changes their own password; in our words, and without labels inside the fields."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["oldpassword"].label = "Your password until now"
        self.fields["password1"].label = "New password"
        self.fields["password2"].label = "New password, once more"
        _without_placeholders(self.fields)


class AgainForm(ReauthenticateForm):  # type: ignore[misc]
    """Somebody shows once more who they are."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["password"].label = "Your password"
        _without_placeholders(self.fields)


def _without_placeholders(fields: dict[str, Any]) -> None:
    for field in fields.values():
        field.widget.attrs.pop("placeholder", None)
