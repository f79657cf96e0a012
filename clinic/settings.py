"""Settings, from the environment alone. Every secret may also come from a file named by `<NAME>_FILE`."""

from pathlib import Path
from urllib.parse import unquote

import environ

BASE_DIR = Path(__file__).resolve().parent.parent
env = environ.FileAwareEnv()

DEBUG = env.bool("DEBUG", default=False)
SECRET_KEY = env.str("SECRET_KEY", default="")
ALLOWED_HOSTS = env.list("ALLOWED_HOSTS", default=["127.0.0.1", "localhost"])
CSRF_TRUSTED_ORIGINS = env.list("CSRF_TRUSTED_ORIGINS", default=[])
PUBLIC_URL = env.str("PUBLIC_URL", default="")
TIME_ZONE = env.str("CLINIC_TIME_ZONE", default="UTC")
VAR_DIR = Path(env.str("VAR_DIR", default=str(BASE_DIR / "var")))

INSTALLED_APPS = [
    "clinic",
    "exams",
    "nutrition",
    "preventive",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.postgres",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "pgtrigger",
    "pghistory",
    "procrastinate.contrib.django",
    "django_htmx",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
]

ROOT_URLCONF = "clinic.urls"
WSGI_APPLICATION = "clinic.wsgi.application"
AUTH_USER_MODEL = "clinic.Staff"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

DATABASES = {
    "default": env.db_url("DATABASE_URL", default="postgres://tailward_app@127.0.0.1:5432/tailward"),
}
DATABASES["default"]["HOST"] = unquote(DATABASES["default"]["HOST"])  # a socket's folder is written with %2F
DATABASES["default"].setdefault("OPTIONS", {})

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
            ],
        },
    }
]

USE_I18N = True
USE_TZ = True
LANGUAGE_CODE = "en"
STATIC_URL = "/static/"
STATIC_ROOT = VAR_DIR / "static"
