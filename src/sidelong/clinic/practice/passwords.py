"""The signer's password once more: whoever sits at an open screen signs for nobody else."""

from allauth.core import ratelimit
from django import forms

from sidelong.clinic.accounts.access import StaffRequest


class PasswordForm(forms.Form):
    """What is signed with the password; fields of its own come first."""

    password = forms.CharField(
        label="Your password",
        help_text="Asked again, so that it is you who signs.",
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        max_length=400,
        strip=False,
    )


def check_password(request: StaffRequest, form: forms.Form) -> None:
    """Add a fault to the form unless the signer's own password was typed; guesses are slowed.

    Parameters
    ----------
    request : StaffRequest
        Whose.
    form : Form
        Bound, with a field ``password``.
    """
    if not form.is_valid():
        return
    if not ratelimit.consume(request, action="reauthenticate", user=request.user):
        form.add_error("password", "That was tried too often. Wait a minute, then try again.")
    elif not request.user.check_password(form.cleaned_data["password"]):
        form.add_error("password", "It is not your password.")
