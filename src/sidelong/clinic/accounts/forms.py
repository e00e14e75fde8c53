"""Forms of staff accounts."""

from typing import TYPE_CHECKING

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
