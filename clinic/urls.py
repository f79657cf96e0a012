"""Every address of the staff's side. Upper rooms bring theirs: an app config with `urls`."""

from django.apps import apps
from django.urls import URLPattern, URLResolver, include, path

from clinic.platform.health import healthz

_ROOMS = [config.urls for config in apps.get_app_configs() if hasattr(config, "urls")]

urlpatterns: list[URLPattern | URLResolver] = [
    path("healthz", healthz, name="healthz"),
    path("accounts/", include("allauth.account.urls")),
    path("accounts/2fa/", include("allauth.mfa.urls")),
    path("", include("clinic.people.urls")),
    path("", include("clinic.patients.urls")),
    path("", include("clinic.visits.urls")),
    path("", include("clinic.care.urls")),
    path("", include("clinic.promises.urls")),
    path("", include("clinic.death.urls")),
    path("", include("clinic.letters.urls")),
    path("", include("clinic.owner_page.staff_urls")),
    path("", include("clinic.summaries.urls")),
    path("", include("clinic.mail.urls")),
    path("", include("clinic.callbacks.urls")),
    path("", include("clinic.morning.urls")),
    path("", include("clinic.records.urls")),
    path("", include("clinic.platform.urls")),
    *[path("", include(urls)) for urls in _ROOMS],
]
