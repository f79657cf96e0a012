from django.urls import URLPattern, path

from clinic.people import views

urlpatterns: list[URLPattern] = [
    path("tablet/", views.handover, name="handover"),
    path("tablet/pin/", views.pin, name="tablet-pin"),
    path("tablet/add/", views.add, name="tablet-add"),
    path("tablet/lock/", views.lock, name="tablet-lock"),
    path("tablet/touched/", views.touched, name="tablet-touched"),
    path("invitation/<str:token>/", views.accept, name="invitation"),
    path("me/", views.own, name="own"),
    path("me/units/", views.units, name="own-units"),
    path("me/everywhere/", views.everywhere, name="own-everywhere"),
]
