"""How the sign-in library does its work here: no sign-up, everything recorded, secrets sealed."""

import base64
import logging
from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from allauth.mfa.adapter import DefaultMFAAdapter
from django.conf import settings
from django.http import HttpRequest

from sidelong.clinic.accounts.actions import choose_password
from sidelong.clinic.accounts.addresses import client_address
from sidelong.clinic.accounts.models import User
from sidelong.clinic.accounts.people import Visitor
from sidelong.clinic.audit.acts import act
from sidelong.clinic.keys import Purpose
from sidelong.clinic.sealing import Place, seal, unseal

_security = logging.getLogger("sidelong.security")
# The library names no row when it hides a secret, so these are bound to the column alone.
_SECRETS = Place("mfa_authenticator", "data", "")


class AccountAdapter(DefaultAccountAdapter):  # type: ignore[misc]
    """Signing in and out, and changing a password, as recorded acts."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        """Nobody signs up: staff are invited."""
        return False

    def login(self, request: HttpRequest, user: User) -> None:
        """Sign in."""
        with act("signed in", by=user, subject=user.audit_key):
            super().login(request, user)

    def logout(self, request: HttpRequest) -> None:
        """Sign out; the session ends on this side too."""
        user = request.user
        if isinstance(user, User):
            with act("signed out", by=user, subject=user.audit_key):
                super().logout(request)
        else:
            super().logout(request)

    def authentication_failed(self, request: HttpRequest, **credentials: Any) -> None:
        """Record a failed attempt by account number; what was typed may be a password."""
        typed = str(credentials.get("username") or "").casefold()
        user = User.objects.filter(username=typed).first()
        subject = user.audit_key if user else "staff:unknown"
        with act("sign-in failed", by=Visitor(), subject=subject):
            _security.warning("sign-in failed", extra={"facts": {"subject": subject}})

    def set_password(self, user: User, password: str) -> None:
        """Change one's own password."""
        choose_password(user=user, password=password, by=user)

    def send_notification_mail(self, *args: Any, **kwargs: Any) -> None:
        """Send nothing: an installation may have no mail server; the trail says it."""

    def get_client_ip(self, request: HttpRequest) -> str:
        """Give the visitor's address."""
        return client_address(request)


class SecondFactorAdapter(DefaultMFAAdapter):  # type: ignore[misc]
    """Second factors: shared secrets are sealed before they reach the database."""

    def get_totp_issuer(self) -> str:
        """Name the clinic in the authenticator app."""
        return settings.INSTALLATION.name

    def encrypt(self, text: str) -> str:
        """Seal a secret."""
        key = settings.INSTALLATION.key_ring().newest(Purpose.SECOND_FACTORS)
        sealed = seal(text.encode("utf-8"), key=key, place=_SECRETS)
        return base64.b64encode(sealed).decode("ascii")

    def decrypt(self, encrypted_text: str) -> str:
        """Open a secret."""
        ring = settings.INSTALLATION.key_ring()
        sealed = base64.b64decode(encrypted_text)
        plain = unseal(sealed, ring=ring, purpose=Purpose.SECOND_FACTORS, place=_SECRETS)
        return plain.decode("utf-8")
