"""Addresses of patients, owners and measurements."""

from django.urls import URLPattern, path

from clinic.patients.views import edit, facts, look, measuring, picture

urlpatterns: list[URLPattern] = [
    path("patients/", look.patients, name="patients"),
    path("patients/<int:patient_id>/", look.patient, name="patient"),
    path("patients/<int:patient_id>/changes/", look.patient_changes, name="patient-changes"),
    path("patients/<int:patient_id>/picture/", picture.picture, name="patient-picture"),
    path("patients/<int:patient_id>/picture/set/", picture.picture_set, name="patient-picture-set"),
    path("patients/<int:patient_id>/edit/", edit.patient, name="patient-edit"),
    path("patients/<int:patient_id>/left/", edit.left, name="patient-left"),
    path("patients/<int:patient_id>/facts/", facts.page, name="patient-facts"),
    path("patients/<int:patient_id>/alert/", facts.alert, name="patient-alert"),
    path("patients/<int:patient_id>/alert/end/", facts.alert_end, name="patient-alert-end"),
    path("patients/<int:patient_id>/condition/", facts.condition, name="patient-condition"),
    path("patients/<int:patient_id>/condition/end/", facts.condition_end, name="patient-condition-end"),
    path("patients/<int:patient_id>/chip/", facts.chip, name="patient-chip"),
    path("patients/<int:patient_id>/gone/", facts.gone, name="patient-gone"),
    path("patients/<int:patient_id>/gone/back/", facts.gone_back, name="patient-gone-back"),
    path("patients/<int:patient_id>/owner/", facts.owner_add, name="patient-owner"),
    path("patients/<int:patient_id>/owner/first/", facts.owner_first, name="patient-owner-first"),
    path("patients/<int:patient_id>/owner/end/", facts.owner_end, name="patient-owner-end"),
    path("patients/<int:patient_id>/measure/", measuring.of_patient, name="patient-measure"),
    path("patients/<int:patient_id>/judge/", measuring.judge_patient, name="patient-judge"),
    path(
        "patients/<int:patient_id>/measurements/<int:measurement_id>/strike/",
        measuring.strike,
        name="measurement-strike",
    ),
    path("visits/<int:visit_id>/measure/", measuring.of_visit, name="visit-measure"),
    path("visits/<int:visit_id>/judge/", measuring.judge_visit, name="visit-judge"),
    path("owners/new/", edit.owner_new, name="owner-new"),
    path("owners/<int:owner_id>/", look.owner, name="owner"),
    path("owners/<int:owner_id>/edit/", edit.owner, name="owner-edit"),
    path("owners/<int:owner_id>/changes/", look.owner_changes, name="owner-changes"),
    path("owners/<int:owner_id>/patients/new/", edit.patient_new, name="patient-new"),
]
