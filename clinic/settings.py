"""Settings, from the environment alone. Every variable may also come from a file named by `<NAME>_FILE`."""

from importlib.util import find_spec
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from django.core.exceptions import ImproperlyConfigured

from clinic.platform.embedded import EmbeddedError, read_access
from clinic.platform.environment import Environment
from clinic.platform.local_secret import local_secret
from clinic.platform.logs import logging_config

BASE_DIR = Path(__file__).resolve().parent.parent
env = Environment()

# --- where and for whom -----------------------------------------------------------------------------------
VAR_DIR = Path(env.text("VAR_DIR", str(BASE_DIR / "var"))).resolve()
DEBUG = env.flag("DEBUG")
LAY_DEMO = env.flag("DEMO", default=True)  # only ever into a database that holds nobody
# on: everybody comes through a TLS proxy that sets X-Forwarded-Proto and X-Forwarded-For
TLS = env.flag("TLS")
if TLS and DEBUG:
    raise ImproperlyConfigured("DEBUG shows the program's insides, so it cannot be on together with TLS.")
SECRET_KEY = env.secret("SECRET_KEY") if TLS else (env.text("SECRET_KEY") or local_secret(VAR_DIR))
PUBLIC_URL = env.web_address("PUBLIC_URL")  # the owners' paths only; empty: letters carry no links
ALLOWED_HOSTS = env.words("ALLOWED_HOSTS", [] if TLS else ["127.0.0.1", "localhost", "[::1]"])
if not ALLOWED_HOSTS:
    raise ImproperlyConfigured("With TLS on, ALLOWED_HOSTS must name the host the tablets use.")
if "127.0.0.1" not in ALLOWED_HOSTS:
    ALLOWED_HOSTS.append("127.0.0.1")  # health checks ask from the machine itself
if PUBLIC_URL:
    _owners_host = urlsplit(PUBLIC_URL).hostname or ""
    if TLS and _owners_host in ALLOWED_HOSTS:
        raise ImproperlyConfigured(
            f"PUBLIC_URL and ALLOWED_HOSTS both name {_owners_host}: owners' pages need a name of their own."
        )
    ALLOWED_HOSTS.append(_owners_host)
CSRF_TRUSTED_ORIGINS = env.words("CSRF_TRUSTED_ORIGINS", [])
TIME_ZONE = env.time_zone("CLINIC_TIME_ZONE", "UTC")
# speech to text inside the clinic: the path of a model that the clinic provides, and which library reads it
SPEECH_MODEL = env.text("SPEECH_MODEL")
SPEECH_LIBRARY = env.choice("SPEECH_LIBRARY", "faster-whisper", frozenset({"faster-whisper", "vosk"}))
WORKER_GRACE = env.number("WORKER_GRACE", 20, least=1, most=600)  # s, for jobs at work when it shall end
USE_TZ = True
FORM_RENDERER = "clinic.platform.forms.FieldRenderer"

USE_I18N = True
LANGUAGE_CODE = "en"
LANGUAGES = [("en", "English"), ("es", "Español")]
LOCALE_PATHS = [BASE_DIR / "clinic" / "locale"]

# --- the program ------------------------------------------------------------------------------------------
INSTALLED_APPS = [
    "clinic",  # before Django's own, whose `migrate` it runs as the owner role
    "exams",
    "nutrition",
    "preventive",
    "fixtures",  # the demo clinic
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.postgres",
    "django.forms",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "pgtrigger",
    "pghistory",
    "procrastinate.contrib.django",
    "django_htmx",
]
MIDDLEWARE = [
    "clinic.platform.requests.RequestId",
    "django.middleware.security.SecurityMiddleware",
    "clinic.platform.csp.PageHeaders",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "clinic.owner_page.middleware.OwnersHost",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "clinic.people.middleware.WorkingPerson",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "clinic.platform.requests.RequestHistory",
]
ROOT_URLCONF = "clinic.urls"
WSGI_APPLICATION = "clinic.wsgi.application"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "clinic.platform.shell.shell",
            ],
        },
    }
]
LOGGING = logging_config(
    env.choice("LOG_LEVEL", "INFO", frozenset({"DEBUG", "INFO", "WARNING", "ERROR"})),
)


# --- the database -----------------------------------------------------------------------------------------
def _databases() -> tuple[dict[str, Any], dict[str, Any] | None]:
    """The application role's settings and, when it is another, the owner's; unset: the embedded server's."""
    application, owner = env.database("DATABASE_URL"), env.database("DATABASE_OWNER_URL")
    if application:
        return application, owner
    try:
        access = read_access(VAR_DIR)
    except EmbeddedError as error:
        raise ImproperlyConfigured(str(error)) from error
    if access is None:
        # nothing was set up yet: commands that need no database still work, the others say what they miss
        return env.database("DATABASE_URL", "postgres://tailward_app@localhost/tailward") or {}, owner
    return (
        env.database("DATABASE_URL", access.app_url) or {},
        env.database("DATABASE_OWNER_URL", access.owner_url),
    )


_application, DATABASE_OWNER = _databases()
DATABASES = {
    "default": {
        **_application,
        "ATOMIC_REQUESTS": False,  # an action owns its transaction
        "CONN_MAX_AGE": 600,  # each of the few threads keeps its connection
        "CONN_HEALTH_CHECKS": True,
        "OPTIONS": {
            "connect_timeout": 5,
            "keepalives_idle": 30,
            "keepalives_interval": 10,
            "keepalives_count": 3,
            "options": (
                "-c statement_timeout=30s -c lock_timeout=10s -c idle_in_transaction_session_timeout=120s "
                # a clinic's rows lie in memory or on a disk without moving parts: by index costs little more
                "-c random_page_cost=1.1 "
                # a letter swapped in a name still finds it: two thirds of its trigrams would be too many
                "-c pg_trgm.word_similarity_threshold=0.45"
            ),
            **_application["OPTIONS"],
        },
    }
}
CACHES: dict[str, dict[str, Any]] = {
    # shared by all processes, or sign-in's rate limits would count in each of them apart
    "default": {"BACKEND": "django.core.cache.backends.db.DatabaseCache", "LOCATION": "clinic_cache"},
}
PROCRASTINATE_IMPORT_PATHS = sorted(
    ".".join(path.relative_to(BASE_DIR).with_suffix("").parts)
    for app in ("clinic", "exams", "nutrition", "preventive")
    for path in (BASE_DIR / app).glob("**/tasks.py")
)

# --- files ------------------------------------------------------------------------------------------------
STATIC_URL = "/static/"
# the owner's page is set in the fonts of the letter on paper
STATICFILES_DIRS = [("clinic/letter-fonts", BASE_DIR / "clinic" / "letters" / "sheet" / "fonts")]
STATIC_ROOT = Path(env.text("STATIC_DIR", str(VAR_DIR / "static")))
MEDIA_ROOT = VAR_DIR / "files"  # no MEDIA_URL: a stored file is served by a view that asks who may see it
STORAGES: dict[str, dict[str, Any]] = {
    "default": {"BACKEND": "clinic.platform.files.ContentStorage"},
    "staticfiles": {"BACKEND": "clinic.platform.static.StaticFiles"},
}
# pages name files by content only: the others would be pressed a second time at a first start
WHITENOISE_KEEP_ONLY_HASHED_FILES = True
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024

# --- mail -------------------------------------------------------------------------------------------------
OUTBOX_DIR = VAR_DIR / "outbox"
_mail = env.mail("EMAIL_URL") or {"EMAIL_BACKEND": "clinic.platform.outbox.OutboxBackend"}
_OVER_SMTP = {"django.core.mail.backends.smtp.EmailBackend": "clinic.mail.smtp.Backend"}
EMAIL_BACKEND: str = _OVER_SMTP.get(_mail["EMAIL_BACKEND"], _mail["EMAIL_BACKEND"])
EMAIL_HOST: str = _mail.get("EMAIL_HOST") or "localhost"
EMAIL_PORT: int = _mail.get("EMAIL_PORT") or 25
EMAIL_HOST_USER: str = _mail.get("EMAIL_HOST_USER") or ""
EMAIL_HOST_PASSWORD: str = _mail.get("EMAIL_HOST_PASSWORD") or ""
EMAIL_USE_TLS: bool = _mail.get("EMAIL_USE_TLS", False)
EMAIL_USE_SSL: bool = _mail.get("EMAIL_USE_SSL", False)
EMAIL_TIMEOUT = 30
BOUNCES_URL = env.mailbox("BOUNCES_URL")  # where mails that came back arrive; empty: staff say so by a button
# a service that EMAIL_URL sends through and that tells by itself what came back; empty: it does not
MAIL_SERVICE = env.choice("MAIL_SERVICE", "none", frozenset({"none", "brevo", "mailgun", "postmark"}))
MAIL_SERVICE = "" if MAIL_SERVICE == "none" else MAIL_SERVICE
ANYMAIL: dict[str, str] = {}
if MAIL_SERVICE:
    if not PUBLIC_URL:
        raise ImproperlyConfigured("MAIL_SERVICE tells what came back under PUBLIC_URL, which is not set.")
    if find_spec("anymail") is None:
        raise ImproperlyConfigured("MAIL_SERVICE needs django-anymail: add the program’s extra anymail.")
    ANYMAIL["WEBHOOK_SECRET"] = env.name_and_password("MAIL_SERVICE_SECRET")
    if MAIL_SERVICE == "mailgun":
        ANYMAIL["MAILGUN_WEBHOOK_SIGNING_KEY"] = env.secret("MAIL_SERVICE_KEY")
DEFAULT_FROM_EMAIL = env.text("MAIL_FROM", "clinic@tailward.example")
SERVER_EMAIL = DEFAULT_FROM_EMAIL

# --- who comes in -----------------------------------------------------------------------------------------
AUTH_USER_MODEL = "clinic.Staff"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 10},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
]
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "account_login"
ACCOUNT_ADAPTER = "clinic.platform.accounts.ClosedSignUp"
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*", "password2*"]
ACCOUNT_EMAIL_VERIFICATION = "none"  # an invitation comes by e-mail, so whoever accepts it has read it
ACCOUNT_EMAIL_SUBJECT_PREFIX = ""
ACCOUNT_SESSION_REMEMBER = True
ACCOUNT_REAUTHENTICATION_TIMEOUT = 300
ACCOUNT_LOGOUT_ON_PASSWORD_CHANGE = True
MFA_SUPPORTED_TYPES = ["totp", "webauthn", "recovery_codes"]
MFA_PASSKEY_LOGIN_ENABLED = True
MFA_TOTP_ISSUER = "Tailward"
MFA_WEBAUTHN_ALLOW_INSECURE_ORIGIN = not TLS  # browsers themselves allow it for localhost only
ALLAUTH_TRUSTED_PROXY_COUNT = 1 if TLS else 0

SESSION_COOKIE_AGE = 12 * 3600  # a working day
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_SECURE = TLS
CSRF_COOKIE_SECURE = TLS
CSRF_COOKIE_HTTPONLY = True  # pages take the token from the form or from its endpoint
CSRF_COOKIE_SAMESITE = "Lax"
X_FRAME_OPTIONS = "DENY"
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
SECURE_SSL_REDIRECT = TLS
SECURE_REDIRECT_EXEMPT = [r"^healthz$"]  # asked inside the house, not through the proxy
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if TLS else None
SECURE_HSTS_SECONDS = 31_536_000 if TLS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = TLS
# a browser's preload list is for a whole domain, which is the clinic's to decide and not this program's
SILENCED_SYSTEM_CHECKS = ["security.W021"]
