from django.urls import path

from clinic.morning import views

urlpatterns = [
    path("morning/", views.morning, name="morning"),
    path("morning/paper/<int:owner_id>/", views.paper, name="morning-paper"),
    path("morning/remind/<int:record_id>/", views.remind, name="morning-remind"),
]
