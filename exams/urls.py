from django.urls import URLPattern, path

from exams import lump_views, own_urls, photo_views, presence_views, summary_views, talk_views, views

urlpatterns: list[URLPattern] = [
    *own_urls.urlpatterns,
    path("visits/<int:visit_id>/exam/", views.exam, name="visit-exam"),
    path("visits/<int:visit_id>/exam/operations/", views.operations, name="exam-operations"),
    path(
        "visits/<int:visit_id>/exam/state/",
        presence_views.told_who_is_here(views.state),
        name="exam-state",
    ),
    path("visits/<int:visit_id>/exam/summary/", summary_views.exam_summary, name="exam-summary"),
    path("visits/<int:visit_id>/exam/here/", presence_views.here, name="exam-here"),
    path("visits/<int:visit_id>/exam/talk/", talk_views.talk, name="exam-talk"),
    path("visits/<int:visit_id>/exam/talk/forget/", talk_views.forget, name="exam-talk-forget"),
    path("visits/<int:visit_id>/exam/talk/recording/", talk_views.recording, name="exam-recording"),
    path("records/spoken/", talk_views.spoken, name="spoken"),
    path("records/spoken/keeping/", talk_views.keeping, name="spoken-keeping"),
    path("records/spoken/<int:form_id>/accept/", talk_views.accept, name="spoken-accept"),
    path("records/spoken/<int:form_id>/decline/", talk_views.decline, name="spoken-decline"),
    path("records/spoken/<int:form_id>/withdraw/", talk_views.withdraw, name="spoken-withdraw"),
    path("visits/<int:visit_id>/exam/token/", views.token, name="exam-token"),
    path("visits/<int:visit_id>/exam/none-there/", views.none_there, name="exam-none-there"),
    path("visits/<int:visit_id>/exam/there-is-one/", views.there_is_one, name="exam-there-is-one"),
    path(
        "patients/<int:patient_id>/lump-samples/<uuid:sample_id>/result/",
        lump_views.sample_result,
        name="lump-result",
    ),
    path(
        "patients/<int:patient_id>/lump-results/<int:sample_result_id>/strike/",
        lump_views.sample_result_strike,
        name="lump-result-strike",
    ),
    path("visits/<int:visit_id>/exam/photos/", photo_views.visit_photos, name="exam-photos"),
    path(
        "visits/<int:visit_id>/exam/photos/<uuid:photo_id>/strike/",
        photo_views.photo_strike,
        name="exam-photo-strike",
    ),
    path(
        "visits/<int:visit_id>/exam/photos/<uuid:photo_id>/describe/",
        photo_views.photo_describe,
        name="exam-photo-describe",
    ),
    path("photographs/<uuid:photo_id>/", photo_views.photo, name="exam-photo"),
    path("photographs/<uuid:photo_id>/small/", photo_views.photo_small, name="exam-photo-small"),
    path("patients/<int:patient_id>/photographs/", photo_views.patient_photos, name="patient-photos"),
    path(
        "patients/<int:patient_id>/photographs/<uuid:photo_id>/",
        photo_views.patient_photo,
        name="patient-photo",
    ),
    path(
        "patients/<int:patient_id>/walk/<str:structure>/", views.structure_history, name="structure-history"
    ),
]
