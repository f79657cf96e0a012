from django.urls import path

from clinic.callbacks import answer_views, post_views, reminder_views, views

urlpatterns = [
    path("due/", views.due_list, name="due-list"),
    path("due/<int:owner_id>/", views.household, name="due-household"),
    path("due/<int:owner_id>/stop/", views.stop, name="due-stop"),
    path("due/<int:owner_id>/stops/<int:stop_id>/lift/", views.lift, name="due-lift"),
    path("due/file/", views.due_file, name="due-file"),
    path("due/helped/", views.did_it_help, name="due-helped"),
    path("due/write/", reminder_views.write, name="due-write"),
    path("due/post/", post_views.post, name="due-post"),
    path("due/post/<int:run_id>/letters.pdf", post_views.post_pdf, name="due-post-pdf"),
    path("due/leaving/", reminder_views.leaving, name="due-leaving"),
    path("due/leaving/<int:reminder_id>/stop/", reminder_views.stop_one, name="due-stop-one"),
    path("due/answers/", answer_views.answers, name="due-answers"),
    path("due/answers/<int:answer_id>/proof/", answer_views.proof, name="due-answer-proof"),
    path("due/answers/<int:answer_id>/book/", answer_views.book, name="due-answer-book"),
    path("due/answers/<int:answer_id>/accept/", answer_views.accept, name="due-answer-accept"),
    path("due/answers/<int:answer_id>/settle/", answer_views.settle, name="due-answer-settle"),
    path("due/answers/<int:answer_id>/undo/", answer_views.undo, name="due-answer-undo"),
    path("due/plans/", reminder_views.plans, name="due-plans"),
    path("due/plans/words/", reminder_views.words, name="due-plan-words"),
    path("due/plans/settings/", reminder_views.settings, name="due-settings"),
    path("due/plans/<int:plan_id>/", reminder_views.plan, name="due-plan"),
    path("due/plans/<int:plan_id>/approve/", reminder_views.approve, name="due-plan-approve"),
    path("due/plans/<int:plan_id>/drop/", reminder_views.drop, name="due-plan-drop"),
]
