from django.urls import URLPattern, path

from clinic.platform import offline

urlpatterns: list[URLPattern] = [
    path("worker.js", offline.worker, name="worker"),
    path("offline/<str:why>/", offline.offline, name="offline"),
]
