from django.urls import URLPattern, path

from clinic.death import views

urlpatterns: list[URLPattern] = [
    path("patients/<int:patient_id>/death/", views.death, name="patient-death"),
    path("patients/<int:patient_id>/death/body/", views.body, name="death-body"),
    path("patients/<int:patient_id>/death/back/", views.back, name="death-back"),
    path("patients/<int:patient_id>/condolence/", views.condolence, name="condolence"),
]
