"""Every address of the staff's side. Upper rooms bring theirs along: an app config with `urls` is included."""

from django.apps import apps
from django.urls import URLPattern, URLResolver, include, path

_ROOMS = [config.urls for config in apps.get_app_configs() if getattr(config, "urls", "")]

urlpatterns: list[URLPattern | URLResolver] = [
    path("accounts/", include("allauth.account.urls")),
    path("accounts/2fa/", include("allauth.mfa.urls")),
    path("", include("clinic.people.urls")),
    path("", include("clinic.patients.urls")),
    path("", include("clinic.visits.urls")),
    path("", include("clinic.care.urls")),
    path("", include("clinic.letters.urls")),
    path("", include("clinic.mail.urls")),
    path("", include("clinic.callbacks.urls")),
    path("", include("clinic.platform.urls")),
    *[path("", include(urls)) for urls in _ROOMS],
]
