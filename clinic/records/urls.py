from django.urls import URLPattern, path

from clinic.records import views

urlpatterns: list[URLPattern] = [
    path("records/", views.records, name="records"),
    path("records/staff/", views.staff, name="staff"),
    path("records/staff/invite/", views.invitation, name="staff-invite"),
    path("records/staff/<int:staff_id>/", views.person, name="staff-person"),
    path("records/staff/<int:staff_id>/left/", views.left, name="staff-left"),
    path("records/invitations/<int:invitation_id>/withdraw/", views.withdraw, name="invitation-withdraw"),
    path("patients/<int:patient_id>/export/", views.patient_export, name="patient-export"),
    path("records/clinic/", views.details, name="clinic-details"),
]
