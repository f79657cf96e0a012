from django.urls import path

from clinic.letters import views

urlpatterns = [
    path("visits/<int:visit_id>/letter/sentence/", views.letter_sentence, name="letter-sentence"),
    path("visits/<int:visit_id>/letter/correct/", views.letter_correct, name="letter-correct"),
    path("letters/", views.messages, name="messages"),
    path("letters/<int:letter_id>/", views.letter, name="letter"),
    path("letters/<int:letter_id>/pdf/", views.letter_pdf, name="letter-pdf"),
    path("letters/<int:letter_id>/pdf/make/", views.letter_make, name="letter-make"),
    path("letters/<int:letter_id>/handed/", views.letter_handed, name="letter-handed"),
    path("letters/<int:letter_id>/let-go/", views.letter_let_go, name="letter-let-go"),
    path("letters/mail/<uuid:message_id>/again/", views.message_again, name="message-again"),
]
