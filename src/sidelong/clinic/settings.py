"""Django's settings, made from one installation's folder; see docs/operations/installation.md.

Defaults are safe ones: no debugging, short sessions, cookies for TLS only unless the clinic answers
on this computer alone.
"""

import sqlite3
from importlib.resources import files
from pathlib import Path

from csp.constants import NONCE, NONE, SELF

from sidelong.clinic.databases import database_settings
from sidelong.clinic.installation import installation_here

INSTALLATION = installation_here()
_HERE = Path(__file__).parent
_OVER_TLS = not INSTALLATION.is_loopback

DEBUG = False
SECRET_KEY = INSTALLATION.page_secret
ALLOWED_HOSTS = list(INSTALLATION.hosts)
ROOT_URLCONF = "sidelong.clinic.urls"
WSGI_APPLICATION = "sidelong.clinic.wsgi.application"

INSTALLED_APPS = [
    "django.contrib.contenttypes",
    "django.contrib.auth",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "axes",
    "csp",
    "django_htmx",
    "sidelong.clinic.look",
    "sidelong.clinic.audit",
    "sidelong.clinic.accounts",
    "sidelong.clinic.identities",
    "sidelong.clinic.protocols",
    "sidelong.clinic.trainees",
    "sidelong.clinic.practice",
    "sidelong.clinic.sheets",
    "sidelong.clinic.today",
    "sidelong.clinic.demonstration",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "sidelong.clinic.accounts.middleware.SessionLimits",
    "sidelong.clinic.accounts.middleware.AccessGate",
    "axes.middleware.AxesMiddleware",
]

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [_HERE / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "csp.context_processors.nonce",
            ],
        },
    },
]

# Database and files

DATABASES = {"default": database_settings(INSTALLATION, version=sqlite3.sqlite_version_info)}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
MEDIA_ROOT = INSTALLATION.media
STATIC_ROOT = INSTALLATION.static
STATIC_URL = "/static/"
STATICFILES_DIRS = [
    ("clinic", _HERE / "static" / "clinic"),
    ("fonts", Path(str(files("fontpkg_ibm_plex_sans_arabic"))) / "files"),
]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "sidelong.clinic.statics.HashedFiles",
    },
}

# Language and time: rows hold UTC, pages show the site's time

LANGUAGE_CODE = "en"
USE_I18N = True
USE_TZ = True
TIME_ZONE = INSTALLATION.time_zone

# Signing in

AUTH_USER_MODEL = "accounts.User"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "allauth.account.auth_backends.AuthenticationBackend",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"django.contrib.auth.password_validation.{name}", "OPTIONS": options}
    for name, options in (
        (
            "UserAttributeSimilarityValidator",
            {"user_attributes": ("username", "display_name")},
        ),
        ("MinimumLengthValidator", {"min_length": 15}),
        ("CommonPasswordValidator", {}),
    )
]
PASSWORD_RESET_TIMEOUT = 24 * 3600
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "today"
LOGOUT_REDIRECT_URL = "account_login"

ACCOUNT_ADAPTER = "sidelong.clinic.accounts.adapters.AccountAdapter"
ACCOUNT_USER_MODEL_EMAIL_FIELD = None
ACCOUNT_LOGIN_METHODS = {"username"}
ACCOUNT_SIGNUP_FIELDS = ["username*", "password1*", "password2*"]
ACCOUNT_EMAIL_VERIFICATION = "none"
ACCOUNT_SESSION_REMEMBER = False
ACCOUNT_REAUTHENTICATION_TIMEOUT = 300
ACCOUNT_FORMS = {
    "change_password": "sidelong.clinic.accounts.forms.NewPasswordForm",
    "reauthenticate": "sidelong.clinic.accounts.forms.AgainForm",
}
# Addresses are slowed down first; an account is closed to guesses only after a hundred in a day,
# so that a stranger cannot lock its owner out in passing. A passkey still opens it then.
ACCOUNT_RATE_LIMITS = {"login_failed": "10/m/ip,100/d/key", "login": "30/m/ip"}

MFA_ADAPTER = "sidelong.clinic.accounts.adapters.SecondFactorAdapter"
MFA_SUPPORTED_TYPES = ["totp", "webauthn", "recovery_codes"]
MFA_PASSKEY_LOGIN_ENABLED = True
MFA_PASSKEY_SIGNUP_ENABLED = False
MFA_ALLOW_UNVERIFIED_EMAIL = True
MFA_RECOVERY_CODES_SHOW_ONCE = True
MFA_WEBAUTHN_ALLOW_INSECURE_ORIGIN = not _OVER_TLS

AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_TIME = 0.25  # hours
AXES_RESET_ON_SUCCESS = True
AXES_LOCKOUT_TEMPLATE = "accounts/locked_out.html"
AXES_CLIENT_IP_CALLABLE = "sidelong.clinic.accounts.addresses.client_address"
AXES_DISABLE_ACCESS_LOG = True  # the audit trail is the one record of sign-ins
AXES_VERBOSE = False

# Sessions, cookies and headers

SESSION_COOKIE_AGE = 12 * 3600
SESSION_EXPIRE_AT_BROWSER_CLOSE = True
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = _OVER_TLS
CSRF_COOKIE_HTTPONLY = True
CSRF_COOKIE_SAMESITE = "Strict"
_COOKIE_PREFIX = "__Host-" if _OVER_TLS else ""
SESSION_COOKIE_NAME = f"{_COOKIE_PREFIX}sidelong"
CSRF_COOKIE_NAME = f"{_COOKIE_PREFIX}sidelong-form"

SECURE_SSL_REDIRECT = _OVER_TLS
SECURE_HSTS_SECONDS = 365 * 24 * 3600 if _OVER_TLS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = _OVER_TLS
if INSTALLATION.behind_proxy:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
# Entering a browser maker's preload list cannot be undone soon; that is for the domain's owner.
SILENCED_SYSTEM_CHECKS = ["security.W021"]

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF, NONCE],
        "style-src": [SELF],
        "img-src": [SELF, "data:"],  # the square code of a second factor is drawn on the page
        "font-src": [SELF],
        "connect-src": [SELF],
        "form-action": [SELF],
        "manifest-src": [SELF],
        "object-src": [NONE],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
    },
}

DATA_UPLOAD_MAX_MEMORY_SIZE = 10 * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 1000

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"lines": {"()": "sidelong.clinic.journal.JsonLines"}},
    "handlers": {"lines": {"class": "logging.StreamHandler", "formatter": "lines"}},
    "root": {"handlers": ["lines"], "level": "INFO"},
    "loggers": {
        # Django's own handler would write messages and addresses as they come.
        "django": {"handlers": [], "propagate": True},
        "django.server": {"handlers": [], "propagate": True},
    },
}
