from django.urls import URLPattern, path

from clinic.promises import views

urlpatterns: list[URLPattern] = [
    path("promises/", views.promises, name="promises"),
    path("promises/<slug:source>/<slug:promise_key>/", views.promise, name="promise"),
    path("promises/<slug:source>/<slug:promise_key>/hand/", views.hand, name="promise-hand"),
    path("promises/<slug:source>/<slug:promise_key>/move/", views.move, name="promise-move"),
    path("promises/<slug:source>/<slug:promise_key>/close/", views.close, name="promise-close"),
    path("patients/<int:patient_id>/contacts/", views.contacts, name="patient-contacts"),
    path("patients/<int:patient_id>/contacts/new/", views.contact, name="contact-new"),
]
