from django.urls import URLPattern, path

from nutrition import views

urlpatterns: list[URLPattern] = [
    path("visits/<int:visit_id>/feeding/", views.feeding, name="visit-feeding"),
    path("records/foods/", views.foods, name="foods"),
    path("records/foods/new/", views.food, name="food-new"),
    path("records/foods/<slug:code>/", views.food, name="food"),
    path("records/foods/<slug:code>/out/", views.food_out, name="food-out"),
]
