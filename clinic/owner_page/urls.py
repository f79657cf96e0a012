"""Every address that owners reach, under PUBLIC_URL alone. A room brings its own: an app config with
`public_urls`. No address ends with a slash, so none is ever sent on to another."""

from django.apps import apps
from django.urls import URLPattern, URLResolver, include, path

from clinic.callbacks import answer_views, stop_views
from clinic.mail import webhook
from clinic.owner_page import views

_ROOMS = [config.public_urls for config in apps.get_app_configs() if hasattr(config, "public_urls")]

urlpatterns: list[URLPattern | URLResolver] = [
    path("l/<str:secret>", views.page, name="owner-page"),
    path("l/<str:secret>/answer", answer_views.owner_answer, name="owner-answer"),
    path("l/<str:secret>/letter.pdf", views.pdf, name="owner-pdf"),
    path("l/<str:secret>/next-visit.ics", views.calendar, name="owner-calendar"),
    path("l/<str:secret>/photograph-<int:number>.jpg", views.photograph, name="owner-photograph"),
    path("stop-reminders/<str:token>", stop_views.stop, name="owner-stop"),
    *webhook.urls(),
    *[path("", include(urls)) for urls in _ROOMS],
]
handler404 = "clinic.owner_page.views.nothing_here"
