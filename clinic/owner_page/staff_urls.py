from django.urls import path

from clinic.owner_page import staff_views

urlpatterns = [
    path("letters/<int:letter_id>/links/", staff_views.link_make, name="letter-link"),
    path("letters/links/<uuid:link_id>/revoke/", staff_views.link_revoke, name="letter-link-revoke"),
    path("letters/<int:letter_id>/send/", staff_views.send, name="letter-send"),
    path("letters/<int:letter_id>/colleague/", staff_views.colleague, name="letter-colleague"),
    path("letters/mail/<uuid:message_id>/came-back/", staff_views.came_back, name="message-came-back"),
]
