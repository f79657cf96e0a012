from django.urls import path

from clinic.callbacks import reminder_views, views

urlpatterns = [
    path("due/", views.due_list, name="due-list"),
    path("due/<int:owner_id>/", views.household, name="due-household"),
    path("due/<int:owner_id>/stop/", views.stop, name="due-stop"),
    path("due/<int:owner_id>/stops/<int:stop_id>/lift/", views.lift, name="due-lift"),
    path("due/<int:owner_id>/asked/<int:asking_id>/back/", views.take_back, name="due-take-back"),
    path("due/calls/", views.calls, name="due-calls"),
    path("due/views/", views.views, name="due-views"),
    path("due/views/<int:view_id>/rename/", views.rename_view, name="due-view-rename"),
    path("due/views/<int:view_id>/drop/", views.drop_view, name="due-view-drop"),
    path("due/file/", views.due_file, name="due-file"),
    path("due/helped/", views.did_it_help, name="due-helped"),
    path("due/write/", reminder_views.write, name="due-write"),
    path("due/leaving/", reminder_views.leaving, name="due-leaving"),
    path("due/leaving/<int:reminder_id>/stop/", reminder_views.stop_one, name="due-stop-one"),
    path("due/plans/", reminder_views.plans, name="due-plans"),
    path("due/plans/settings/", reminder_views.settings, name="due-settings"),
    path("due/pause/", reminder_views.pause, name="due-pause"),
    path("due/plans/<int:plan_id>/pause/", reminder_views.pause_plan, name="due-plan-pause"),
    path("due/plans/<int:plan_id>/", reminder_views.plan, name="due-plan"),
    path("due/plans/<int:plan_id>/approve/", reminder_views.approve, name="due-plan-approve"),
    path("due/plans/<int:plan_id>/drop/", reminder_views.drop, name="due-plan-drop"),
]
