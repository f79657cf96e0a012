from django.urls import path

from clinic.letters import views, wording_views

urlpatterns = [
    path("visits/<int:visit_id>/letter/sentence/", views.letter_sentence, name="letter-sentence"),
    path("visits/<int:visit_id>/letter/correct/", views.letter_correct, name="letter-correct"),
    path("letters/", views.messages, name="messages"),
    path("letters/words/", wording_views.words, name="letter-words"),
    path("letters/words/offer/<int:correction_id>/", wording_views.offer, name="letter-words-offer"),
    path(
        "letters/words/offer/<int:correction_id>/decline/", wording_views.decline, name="letter-words-decline"
    ),
    path("letters/words/text/<str:language>/<path:text_name>/", wording_views.text, name="letter-words-text"),
    path("letters/words/<int:wording_id>/back/", wording_views.back, name="letter-words-back"),
    path("letters/<int:letter_id>/", views.letter, name="letter"),
    path("letters/<int:letter_id>/pdf/", views.letter_pdf, name="letter-pdf"),
    path("letters/<int:letter_id>/pdf/make/", views.letter_make, name="letter-make"),
    path("letters/<int:letter_id>/handed/", views.letter_handed, name="letter-handed"),
    path("letters/<int:letter_id>/let-go/", views.letter_let_go, name="letter-let-go"),
    path("letters/mail/<uuid:message_id>/again/", views.message_again, name="message-again"),
]
