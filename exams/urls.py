from django.urls import URLPattern, path

from exams import views

urlpatterns: list[URLPattern] = [
    path("visits/<int:visit_id>/exam/", views.exam, name="visit-exam"),
    path("visits/<int:visit_id>/exam/operations/", views.operations, name="exam-operations"),
    path("visits/<int:visit_id>/exam/state/", views.state, name="exam-state"),
    path("visits/<int:visit_id>/exam/token/", views.token, name="exam-token"),
    path("visits/<int:visit_id>/exam/none-there/", views.none_there, name="exam-none-there"),
    path(
        "patients/<int:patient_id>/walk/<str:structure>/", views.structure_history, name="structure-history"
    ),
]
