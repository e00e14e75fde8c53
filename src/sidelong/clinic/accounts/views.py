"""Pages of staff accounts."""

from django.contrib.auth.views import PasswordResetConfirmView
from django.urls import reverse_lazy

from sidelong.clinic.accounts.forms import WelcomeForm


class WelcomeView(PasswordResetConfirmView):
    """An invited person chooses a password.

    The link's token is moved into the session at once and the browser sent on, so that it stays
    neither in the address bar nor in what the page may pass on.
    """

    form_class = WelcomeForm
    template_name = "accounts/welcome.html"
    success_url = reverse_lazy("account_login")
    post_reset_login = False


welcome = WelcomeView.as_view()
