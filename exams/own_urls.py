from django.urls import URLPattern, path

from exams import own_views

urlpatterns: list[URLPattern] = [
    path("records/walk/", own_views.walk, name="walk"),
    path("records/walk/editions/", own_views.editions, name="walk-editions"),
    path("records/walk/undo/", own_views.undo, name="walk-undo"),
    path("records/walk/findings/new/", own_views.finding_new, name="walk-finding-new"),
    path("records/walk/findings/<str:own_code>/", own_views.finding, name="walk-finding"),
    path("records/walk/proposals/<int:proposal_id>/", own_views.proposal, name="walk-proposal"),
    path("records/walk/proposals/<int:proposal_id>/approve/", own_views.approve, name="walk-approve"),
    path("records/walk/proposals/<int:proposal_id>/decline/", own_views.decline, name="walk-decline"),
    path("records/walk/lines/<str:structure>/", own_views.line, name="walk-line"),
    path("me/walk/", own_views.my_order, name="my-order"),
]
