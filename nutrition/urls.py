from django.urls import URLPattern, path

from nutrition import views, weigh_views

urlpatterns: list[URLPattern] = [
    path("visits/<int:visit_id>/feeding/", views.feeding, name="visit-feeding"),
    path("patients/<int:patient_id>/weigh-ins/", weigh_views.weigh_ins, name="weigh-ins"),
    path("patients/<int:patient_id>/grown-weight/", weigh_views.grown_weight, name="grown-weight"),
    path("records/foods/", views.foods, name="foods"),
    path("feeding/calculator/", views.calculator, name="feeding-calculator"),
    path("records/foods/compare/", views.compare, name="foods-compare"),
    path("records/foods/new/", views.food, name="food-new"),
    path("records/foods/<slug:code>/", views.food, name="food"),
    path("records/foods/<slug:code>/out/", views.food_out, name="food-out"),
]
