"""Routes of signing in, and of one's own account.

The library's own lists of routes would bring sign-up and mail pages along; these are those in use.
"""

from allauth.account import views as sign_in
from allauth.mfa.base import views as factors
from allauth.mfa.recovery_codes import views as codes
from allauth.mfa.totp import views as totp
from allauth.mfa.webauthn import views as passkeys
from django.urls import path

from sidelong.clinic.accounts.access import own_account, public
from sidelong.clinic.accounts.views import welcome

urlpatterns = [
    path("sign-in/", public(sign_in.login), name="account_login"),
    path("sign-in/passkey/", public(passkeys.login_webauthn), name="mfa_login_webauthn"),
    path("sign-in/second-factor/", public(factors.authenticate), name="mfa_authenticate"),
    path("sign-out/", public(sign_in.logout), name="account_logout"),
    path("ended/", public(sign_in.account_inactive), name="account_inactive"),
    path("welcome/<uidb64>/<token>/", public(welcome), name="welcome"),
    path("again/", own_account(sign_in.reauthenticate), name="account_reauthenticate"),
    path("again/code/", own_account(factors.reauthenticate), name="mfa_reauthenticate"),
    path(
        "again/passkey/",
        own_account(passkeys.reauthenticate_webauthn),
        name="mfa_reauthenticate_webauthn",
    ),
    path("password/", own_account(sign_in.password_change), name="account_change_password"),
    path("factors/", own_account(factors.index), name="mfa_index"),
    path("factors/code/", own_account(totp.activate_totp), name="mfa_activate_totp"),
    path("factors/code/remove/", own_account(totp.deactivate_totp), name="mfa_deactivate_totp"),
    path(
        "factors/recovery/", own_account(codes.view_recovery_codes), name="mfa_view_recovery_codes"
    ),
    path(
        "factors/recovery/new/",
        own_account(codes.generate_recovery_codes),
        name="mfa_generate_recovery_codes",
    ),
    path(
        "factors/recovery/file/",
        own_account(codes.download_recovery_codes),
        name="mfa_download_recovery_codes",
    ),
    path("factors/passkeys/", own_account(passkeys.list_webauthn), name="mfa_list_webauthn"),
    path("factors/passkeys/add/", own_account(passkeys.add_webauthn), name="mfa_add_webauthn"),
    path(
        "factors/passkeys/<int:pk>/remove/",
        own_account(passkeys.remove_webauthn),
        name="mfa_remove_webauthn",
    ),
    path(
        "factors/passkeys/<int:pk>/edit/",
        own_account(passkeys.edit_webauthn),
        name="mfa_edit_webauthn",
    ),
]
