from django.urls import path

from clinic.mail import views

urlpatterns = [
    path("outbox/", views.outbox, name="outbox"),
    path("outbox/<str:name>/<int:number>/", views.outbox_file, name="outbox-file"),
]
