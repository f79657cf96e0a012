from django.urls import path

from clinic.callbacks import views

urlpatterns = [
    path("due/", views.due_list, name="due-list"),
    path("due/<int:owner_id>/", views.household, name="due-household"),
    path("due/<int:owner_id>/stop/", views.stop, name="due-stop"),
    path("due/<int:owner_id>/stops/<int:stop_id>/lift/", views.lift, name="due-lift"),
]
