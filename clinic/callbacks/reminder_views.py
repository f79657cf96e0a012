"""Write to these; what leaves today; the plans of asking."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from clinic.callbacks import queries, reminder_actions, reminder_pages
from clinic.callbacks.asked_today import plans_in_force, reminder_settings
from clinic.callbacks.errors import CallBackError
from clinic.callbacks.reasons import counted, waiting_words
from clinic.callbacks.reminder_forms import PlanForm, SettingsForm, WriteForm
from clinic.callbacks.reminder_models import AskingPlan, HouseholdReminder
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.visits.errors import SentBefore

WRONG = 422
AT_MOST = 100


@require_http_methods(["GET", "HEAD", "POST"])
@needs(Right.NOTE_CONTACT)
def write(request: StaffRequest) -> HttpResponse:
    """GET: the messages to the households named in the address. POST: they leave."""
    given = request.POST if request.method == "POST" else request.GET
    ids = [int(each) for each in given.getlist("owner") if each.isdecimal() and len(each) < 19][:AT_MOST]
    now = timezone.now()
    error = ""
    if request.method == "POST":
        form = WriteForm(request.POST, offered=ids)
        try:
            if not form.is_valid() or not ids:
                raise CallBackError("Choose at least one household.")
            made = reminder_actions.write_to(
                owner_ids=ids, once=form.cleaned_data["once"], actor=request.actor, now=now
            )
        except SentBefore:
            return redirect("due-leaving")
        except CallBackError as wrong:
            error = str(wrong)
        else:
            messages.success(request, f"{counted(len(made), 'message leaves', 'messages leave')}.")
            return redirect("due-leaving")
    found = reminder_pages.letters(
        reminder_actions.chosen_households(ids, now=now), today=timezone.localdate(now)
    )
    context = {
        "letters": found,
        "left_out": len(set(ids)) - len(found),
        "form": WriteForm(offered=ids),
        "error": error,
        "settings": reminder_settings(),
        "may_pause": request.actor.may(Right.MANAGE_CLINIC),
    }
    return render(request, "clinic/callbacks/write.html", context, status=WRONG if error else 200)


@require_GET
@needs(Right.SEE)
def leaving(request: StaffRequest) -> HttpResponse:
    """What leaves today, and may be stopped one by one; in a rehearsal what would leave."""
    today = timezone.localdate()
    chosen = reminder_settings()
    rows = reminder_pages.leaving(today=today)
    context = {
        "rows": rows,
        "waiting": waiting_words((each.on or today for each in rows if each.stoppable), today=today),
        "settings": chosen,
        "rehearsed": reminder_pages.rehearsed(plans_in_force(), today=today) if chosen.rehearsal else [],
        "may": request.actor.may(Right.NOTE_CONTACT),
        "may_plan": request.actor.may(Right.MANAGE_CLINIC),
        "may_pause": request.actor.may(Right.MANAGE_CLINIC),
    }
    return render(request, "clinic/callbacks/leaving.html", context)


@require_POST
@needs(Right.NOTE_CONTACT)
def stop_one(request: StaffRequest, reminder_id: int) -> HttpResponse:
    reminder = get_object_or_404(HouseholdReminder.objects.select_related("owner"), pk=reminder_id)
    if reminder_actions.stop_one(reminder=reminder, actor=request.actor, now=timezone.now()):
        messages.success(request, f"The message to {reminder.owner.name} does not leave.")
    else:
        messages.warning(request, f"The message to {reminder.owner.name} had left, or was stopped before.")
    return redirect("morning" if "morning" in request.POST else "due-leaving")


@require_http_methods(["GET", "HEAD", "POST"])
@needs(Right.MANAGE_CLINIC)
def plans(request: StaffRequest) -> HttpResponse:
    """The plans; a POST proposes one. `like`: the form begins as that plan stands."""
    labels = queries.labels(today=timezone.localdate())
    if request.method != "POST":
        like = request.GET.get("like", "")
        found = (
            AskingPlan.objects.filter(pk=int(like)).first() if like.isdecimal() and len(like) < 10 else None
        )
        if found is None:
            return _plans(request)
        labels = sorted({*labels, found.what} - {""})
        return _plans(request, form=PlanForm(labels=labels, initial=PlanForm.like(found)))
    form = PlanForm(request.POST, labels=labels)
    if form.is_valid():
        try:
            plan = reminder_actions.propose_plan(**form.cleaned_data, actor=request.actor, now=timezone.now())
        except SentBefore:
            return redirect("due-plans")
        except CallBackError as wrong:
            form.add_error(wrong.field, str(wrong))
        else:
            return redirect("due-plan", plan.pk)
    return _plans(request, form=form)


@require_POST
@needs(Right.MANAGE_CLINIC)
def pause(request: StaffRequest) -> HttpResponse:
    """The one switch; `to` says which way, so that a second tap changes nothing."""
    on = request.POST.get("to") == "paused"
    if reminder_actions.pause(paused=on, actor=request.actor, now=timezone.now()):
        said = "Paused: no reminder leaves." if on else "Reminders leave again."
        messages.success(request, f"{said} Letters, results and recalls are not touched by it.")
    return redirect("due-leaving")


@require_POST
@needs(Right.MANAGE_CLINIC)
def pause_plan(request: StaffRequest, plan_id: int) -> HttpResponse:
    found = get_object_or_404(AskingPlan, pk=plan_id)
    on = request.POST.get("to") == "paused"
    if reminder_actions.pause_plan(plan=found, paused=on, actor=request.actor, now=timezone.now()):
        messages.success(request, "Nobody is asked about this." if on else "This plan asks again.")
    return redirect("due-plans")


@require_POST
@needs(Right.MANAGE_CLINIC)
def words(request: StaffRequest) -> HttpResponse:
    """How a message reads with the sentences as they are typed, in every language; nothing is kept."""
    form = PlanForm(request.POST, labels=queries.labels(today=timezone.localdate()))
    form.is_valid()  # what is wrong is said beside its field
    context = {"shown": reminder_pages.words_shown(form, today=timezone.localdate())}
    return render(request, "clinic/callbacks/plan_words.html", context)


@require_POST
@needs(Right.MANAGE_CLINIC)
def settings(request: StaffRequest) -> HttpResponse:
    """The switch and the hours."""
    form = SettingsForm(request.POST)
    if form.is_valid():
        try:
            reminder_actions.change_settings(**form.cleaned_data, actor=request.actor, now=timezone.now())
        except CallBackError as wrong:
            form.add_error(wrong.field, str(wrong))
        else:
            messages.success(request, "Kept.")
            return redirect("due-plans")
    return _plans(request, settings_form=form)


def _plans(
    request: StaffRequest, *, form: PlanForm | None = None, settings_form: SettingsForm | None = None
) -> HttpResponse:
    chosen = reminder_settings()
    names = SettingsForm.base_fields
    context = {
        "plans": reminder_pages.plan_rows(reminder_pages.current_plans()),
        "settings": chosen,
        "may_pause": True,
        "form": form or PlanForm(labels=queries.labels(today=timezone.localdate())),
        "shown": reminder_pages.words_shown(form, today=timezone.localdate()),
        "settings_form": settings_form
        or SettingsForm(initial={name: getattr(chosen, name) for name in names}),
    }
    wrong = (form is not None and form.errors) or (settings_form is not None and settings_form.errors)
    return render(request, "clinic/callbacks/plans.html", context, status=WRONG if wrong else 200)


@require_GET
@needs(Right.MANAGE_CLINIC)
def plan(request: StaffRequest, plan_id: int) -> HttpResponse:
    """One plan with what it would write today, before anybody approves it."""
    found = get_object_or_404(
        AskingPlan.objects.select_related("made_by", "approved_by", "paused_by"), pk=plan_id, ended_at=None
    )
    (row,) = reminder_pages.plan_rows([found])
    today = timezone.localdate()
    day, letters = reminder_pages.preview(found, today=today)
    context = {"plan": row, "letters": letters, "day": day, "is_today": day == today}
    return render(request, "clinic/callbacks/plan.html", context)


@require_POST
@needs(Right.MANAGE_CLINIC)
def approve(request: StaffRequest, plan_id: int) -> HttpResponse:
    found = get_object_or_404(AskingPlan, pk=plan_id)
    if reminder_actions.approve_plan(plan=found, actor=request.actor, now=timezone.now()):
        messages.success(request, "This plan asks from now on.")
    return redirect("due-plans")


@require_POST
@needs(Right.MANAGE_CLINIC)
def drop(request: StaffRequest, plan_id: int) -> HttpResponse:
    found = get_object_or_404(AskingPlan, pk=plan_id)
    if reminder_actions.drop_plan(plan=found, actor=request.actor, now=timezone.now()):
        messages.success(request, "This plan asks nobody any more.")
    return redirect("due-plans")
