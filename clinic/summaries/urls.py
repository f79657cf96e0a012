from django.urls import URLPattern, path

from clinic.summaries import views

urlpatterns: list[URLPattern] = [
    path("patients/<int:patient_id>/summaries/new/", views.new, name="summary-new"),
    path("summaries/<int:summary_id>/", views.summary, name="summary"),
    path("summaries/<int:summary_id>/pdf/", views.summary_pdf, name="summary-pdf"),
    path("summaries/<int:summary_id>/pdf/make/", views.summary_make, name="summary-make"),
]
