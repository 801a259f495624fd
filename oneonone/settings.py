"""Settings of all processes: pages, jobs, tests and commands.

Values that differ between installations come from `environment`.
"""

import os
from pathlib import Path
from typing import Any

from csp.constants import NONE, SELF

from oneonone import environment

BASE_DIR = Path(__file__).resolve().parent.parent
ENVIRONMENT = environment.read(os.environ, BASE_DIR)

# --- places
DATA = ENVIRONMENT.data
DEMO = ENVIRONMENT.demo
BASE_URL = ENVIRONMENT.base_url  # of links in mails and invitations; never taken from a request
REDIS_URL = ENVIRONMENT.redis_url
SECRET_KEY = ENVIRONMENT.secret_key
KEK_TEXT = ENVIRONMENT.kek  # key-encryption keys, newest first; stored outside the database
ERASURE_LIST = (
    ENVIRONMENT.erasure_list
)  # outside the database, so that a restored backup does not bring erased people back
CLOCK_FILE = DATA / "clock.json" if DEMO else None
DEBUG = False
ALLOWED_HOSTS = ENVIRONMENT.allowed_hosts
CSRF_TRUSTED_ORIGINS = [BASE_URL]

# --- apps and middleware
INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "accounts",
    "oneonone",
    "tasks",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "rest_framework",
    "csp",
]
MIDDLEWARE = [
    "oneonone.web.health.HealthMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    # These two come before all middleware that may refuse a request, so that refusals have the headers too.
    "csp.middleware.CSPMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "oneonone.web.middleware.CookieMiddleware",
    "oneonone.web.middleware.ReaderMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "oneonone.web.middleware.IdleMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "oneonone.web.signing_in.second_factor.SecondFactorMiddleware",
    "oneonone.web.middleware.NoStoreMiddleware",
    "oneonone.web.middleware.ZoneMiddleware",
]
# Uploaded calendars are kept in memory only: no part of one is written to disk.
FILE_UPLOAD_HANDLERS = ["oneonone.web.uploads.InMemory"]
ROOT_URLCONF = "oneonone.urls"
WSGI_APPLICATION = "oneonone.wsgi.application"
ASGI_APPLICATION = "oneonone.asgi.application"
TEMPLATES: list[dict[str, Any]] = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        # Before the folders of the apps, so that our pages replace allauth's.
        "DIRS": [BASE_DIR / "oneonone" / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.template.context_processors.i18n",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "oneonone.web.context.frame",
            ],
        },
    },
]

# --- rows, sessions, cache
DATABASES = {"default": ENVIRONMENT.database}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
SESSION_ENGINE = "oneonone.web.signing_in.session_store"
# ASVS 5.0, 7.1.1 and 7.3: people sign in again after two weeks, and after three days without a request. Acts
# on accounts ask for the password again, against somebody at an unattended screen.
SESSION_COOKIE_AGE = 14 * 24 * 3600
SESSION_IDLE_SECONDS = 3 * 24 * 3600
CACHES: dict[str, dict[str, Any]] = {
    # Counts sign-in attempts, so it is shared by all processes and survives a restart.
    "default": {"BACKEND": "django.core.cache.backends.redis.RedisCache", "LOCATION": REDIS_URL}
    if REDIS_URL
    else {"BACKEND": "django.core.cache.backends.db.DatabaseCache", "LOCATION": "shared_cache"},
}

# --- language and time: stored and computed in UTC; shown in the zone of the reader or of the line
LANGUAGE_CODE = "en-gb"
LANGUAGES = [("en", "English")]
LOCALE_PATHS = [BASE_DIR / "oneonone" / "locale"]
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"

# --- static files, served by the same process: joined and named by content hash when a server starts
STATIC_URL = "/static/"
STATIC_ROOT = DATA / "static"
STATICFILES_DIRS: list[Path] = []
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "oneonone.serving.staticfiles.JoinedStorage"},
}
WHITENOISE_USE_FINDERS = False
WHITENOISE_AUTOREFRESH = False
WHITENOISE_MAX_AGE = 3600  # seconds, for the few files without a hash; files with one are cached forever

# --- signing in
AUTH_USER_MODEL = "accounts.Person"
AUTHENTICATION_BACKENDS = ["accounts.backends.Backend"]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.ScryptPasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
# SP 800-63B-4 requires 15 characters if the password is the only factor, which it is without a second one.
# ASVS 5.0 (6.2.1) requires 8 and recommends 15. No rules about kinds of characters (6.2.5).
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 15}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "accounts.passwords.StretchedPasswordValidator"},
]
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "account_login"
ACCOUNT_ADAPTER = "oneonone.web.signing_in.adapter.Adapter"
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*", "password2*"]
ACCOUNT_EMAIL_VERIFICATION = "mandatory"
ACCOUNT_CHANGE_EMAIL = True
# Codes instead of links: they contain no server address to forge and nothing for a mail scanner to open. ASVS
# 5.0 (6.5.5) allows at most ten minutes.
ACCOUNT_EMAIL_VERIFICATION_BY_CODE_ENABLED = True
ACCOUNT_EMAIL_VERIFICATION_BY_CODE_TIMEOUT = 600
ACCOUNT_LOGIN_BY_CODE_ENABLED = True
ACCOUNT_LOGIN_BY_CODE_TIMEOUT = 600
ACCOUNT_PASSWORD_RESET_BY_CODE_ENABLED = True
ACCOUNT_PASSWORD_RESET_BY_CODE_TIMEOUT = 600
ACCOUNT_PREVENT_ENUMERATION = True
ACCOUNT_REAUTHENTICATION_REQUIRED = True  # before the address or a second factor is changed (ASVS 5.0, 7.5.1)
ACCOUNT_REAUTHENTICATION_TIMEOUT = 300
ACCOUNT_FORMS = {
    "login": "oneonone.web.signing_in.forms.LoginForm",
    "add_email": "oneonone.web.signing_in.forms.AddEmailForm",
    "change_password": "oneonone.web.signing_in.forms.ChangePasswordForm",
    "set_password": "oneonone.web.signing_in.forms.SetPasswordForm",
    "reset_password": "oneonone.web.signing_in.forms.ResetPasswordForm",
    "reset_password_from_key": "oneonone.web.signing_in.forms.ResetPasswordKeyForm",
    "reauthenticate": "oneonone.web.signing_in.forms.ReauthenticateForm",
    "request_login_code": "oneonone.web.signing_in.forms.RequestLoginCodeForm",
    "confirm_login_code": "oneonone.web.signing_in.forms.ConfirmLoginCodeForm",
    "confirm_email_verification_code": "oneonone.web.signing_in.forms.ConfirmEmailForm",
    "confirm_password_reset_code": "oneonone.web.signing_in.forms.ConfirmResetForm",
}
ACCOUNT_EMAIL_NOTIFICATIONS = True
ACCOUNT_SESSION_REMEMBER = None
ACCOUNT_LOGOUT_ON_GET = False
ACCOUNT_DEFAULT_HTTP_PROTOCOL = "https" if ENVIRONMENT.https else "http"
# Only refused passwords count (`web/signing_in/sign_in_limits.py`): an office can share an address, and
# attempts of a stranger do not lock out the owner.
ACCOUNT_RATE_LIMITS = {
    "login": None,
    "login_failed": "30/m/ip,5/300s/key",  # codes of second factors
    "password_from_origin": "30/m/ip",
    "password_for_address_from_origin": "10/300s/key",
    "password_for_address": "100/h/key",
    "password_on_device": "100/h/key",
    "signup": "20/m/ip",
    # A search that opens the maximum of notes takes nearly a second of CPU time.
    "search_notes": "60/m/user",
    # Reading the largest calendar file takes some seconds of CPU time.
    "read_calendar": "6/m/user,40/h/user",
}
ALLAUTH_TRUSTED_PROXY_COUNT = ENVIRONMENT.proxy_count
MFA_ADAPTER = "oneonone.web.signing_in.adapter.SecondFactorAdapter"
MFA_FORMS = {
    "authenticate": "oneonone.web.signing_in.forms.AuthenticateForm",
    "reauthenticate": "oneonone.web.signing_in.forms.AgainForm",
    "activate_totp": "oneonone.web.signing_in.forms.ActivateTOTPForm",
    "add_webauthn": "oneonone.web.signing_in.forms.AddWebAuthnForm",
    "edit_webauthn": "oneonone.web.signing_in.forms.EditWebAuthnForm",
}
MFA_SUPPORTED_TYPES = ["totp", "webauthn", "recovery_codes"]
MFA_PASSKEY_LOGIN_ENABLED = True
MFA_PASSKEY_SIGNUP_ENABLED = False
MFA_RECOVERY_CODE_COUNT = 10
# Browsers treat http://localhost as secure, and the demo runs there.
MFA_WEBAUTHN_ALLOW_INSECURE_ORIGIN = ENVIRONMENT.host == "localhost"

# --- signing in with the organisation's own OpenID Connect provider
PROVIDER = ENVIRONMENT.provider
SOCIALACCOUNT_OPENID_CONNECT_URL_PREFIX = "oidc"
SOCIALACCOUNT_LOGIN_ON_GET = False
# An account at the provider is identified by its subject, never by its mail address: otherwise whoever
# controls an address at the provider would get the account here.
SOCIALACCOUNT_EMAIL_AUTHENTICATION = False
SOCIALACCOUNT_STORE_TOKENS = False
SOCIALACCOUNT_PROVIDERS: dict[str, Any] = {}
if PROVIDER:
    SOCIALACCOUNT_ADAPTER = "oneonone.web.signing_in.providers.ProviderAdapter"
    INSTALLED_APPS += ["allauth.socialaccount", "allauth.socialaccount.providers.openid_connect"]
    MIDDLEWARE += ["oneonone.web.signing_in.providers.ProviderMiddleware"]
    SOCIALACCOUNT_PROVIDERS["openid_connect"] = {
        "OAUTH_PKCE_ENABLED": True,
        "APPS": [
            {
                "provider_id": "organisation",
                "name": PROVIDER.name,
                "client_id": PROVIDER.client_id,
                "secret": PROVIDER.secret,
                "settings": {"server_url": PROVIDER.issuer},
            }
        ],
    }

# --- security headers and cookies
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF],
        "font-src": [SELF],
        "connect-src": [SELF],
        "manifest-src": [SELF],
        # The form that starts signing in with the provider is answered with a redirect to it.
        "form-action": [SELF, PROVIDER.origin] if PROVIDER else [SELF],
        "frame-ancestors": [NONE],
        "base-uri": [NONE],
    },
}
X_FRAME_OPTIONS = "DENY"
SECURE_REFERRER_POLICY = "same-origin"
# With this prefix browsers accept the cookie only over TLS and from this host.
SESSION_COOKIE_NAME = "__Host-session" if ENVIRONMENT.https else "session"
CSRF_COOKIE_NAME = "__Host-csrf" if ENVIRONMENT.https else "csrf"
DEVICE_COOKIE_NAME = "__Host-device" if ENVIRONMENT.https else "device"
LANGUAGE_COOKIE_NAME = "language"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = LANGUAGE_COOKIE_SECURE = ENVIRONMENT.https
SESSION_COOKIE_HTTPONLY = CSRF_COOKIE_HTTPONLY = LANGUAGE_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = LANGUAGE_COOKIE_SAMESITE = "Lax"
SECURE_SSL_REDIRECT = ENVIRONMENT.https
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if ENVIRONMENT.proxy_count else None
SECURE_HSTS_SECONDS = 365 * 24 * 3600 if ENVIRONMENT.https else 0
# HSTS for subdomains and preloading are decisions of the domain's owner, at their proxy.
SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]

# --- mail: a server, a folder in the demo, or none
MAIL_FOLDER = DATA / "mail" if DEMO else None
MAIL_SERVER = None if DEMO else ENVIRONMENT.mail_server
MAIL_CAN_LEAVE = bool(MAIL_FOLDER or MAIL_SERVER)
DEFAULT_FROM_EMAIL = SERVER_EMAIL = ENVIRONMENT.mail_from
EMAIL_TIMEOUT = 10
if MAIL_FOLDER:
    EMAIL_BACKEND = "oneonone.mailfolder.EmailBackend"
elif MAIL_SERVER:
    EMAIL_BACKEND = "oneonone.mail.smtp.EmailBackend"
    EMAIL_HOST, EMAIL_PORT = MAIL_SERVER.host, MAIL_SERVER.port
    EMAIL_HOST_USER, EMAIL_HOST_PASSWORD = MAIL_SERVER.user, MAIL_SERVER.password
    EMAIL_USE_TLS, EMAIL_USE_SSL = MAIL_SERVER.tls == "starttls", MAIL_SERVER.tls == "implicit"
else:
    EMAIL_BACKEND = "django.core.mail.backends.dummy.EmailBackend"

# --- the JSON face
REST_FRAMEWORK = {
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "DEFAULT_AUTHENTICATION_CLASSES": ["rest_framework.authentication.SessionAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "filters": {
        "tokens": {"()": "oneonone.web.log_filters.HidesTokens"},
        "outages": {"()": "oneonone.outages.OneLineAMinute"},
    },
    "handlers": {
        "stderr": {
            "class": "logging.StreamHandler",
            "formatter": "line",
            "filters": ["tokens", "outages"],
        }
    },
    "root": {"handlers": ["stderr"], "level": "WARNING"},
    "loggers": {
        "oneonone": {"level": "INFO"},
        "tasks": {"level": "INFO"},
        "accounts": {"level": "INFO"},
    },
}
