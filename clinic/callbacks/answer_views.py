"""An owner answers a reminder (a post at the owners' address); staff read and settle the answers."""

from datetime import date, datetime, time

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_GET, require_http_methods, require_POST, require_safe

from clinic.callbacks import answer_lists
from clinic.callbacks.answer_forms import BookAnswerForm, ElsewhereForm, ReplyForm
from clinic.callbacks.answer_models import OF_ANIMALS, Answer
from clinic.callbacks.answer_page import URLS, Typed, answer_page
from clinic.callbacks.answering import (
    STOP,
    UNWANTED,
    AnswerWrong,
    Given,
    Outside,
    accept_elsewhere,
    answer,
    book_answer,
    may_send_proof,
    settle_answer,
    undo_answer,
)
from clinic.callbacks.errors import CallBackError
from clinic.callbacks.replying import replies_to, reply, why_not
from clinic.letters.wordings import language_names
from clinic.mail.models import Message
from clinic.mail.telling import told
from clinic.owner_page.models import OwnerLink
from clinic.owner_page.texts import FIRST, texts
from clinic.owner_page.views import opened_by_secret
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.platform.papers import NotAPaper, paper
from clinic.platform.pictures import MOST_BYTES
from clinic.platform.stored import stored_file
from clinic.visits.errors import SentBefore, VisitError

WRONG = 422
KINDS = frozenset({Answer.Kind.BOOK, Answer.Kind.ELSEWHERE, UNWANTED, STOP, *OF_ANIMALS})
TYPED = ("words", "done_on", "kind")


@csrf_exempt  # nobody is signed in here and no cookie is read: the secret of the address is what counts
@require_POST
@opened_by_secret
def owner_answer(request: HttpRequest, link: OwnerLink, secret: str) -> HttpResponse | None:
    """One answer. What is wrong comes back beside its field, with what was typed."""
    message = link.message
    if message is None or message.owner_id != link.owner_id or not hasattr(message, "reminder"):
        return None
    told = texts(link.owner.language)
    try:
        given = _given(request, message)
        answer(message=message, given=given, now=timezone.now())
    except AnswerWrong as wrong:
        said = told.answer[f"wrong_{wrong.code}"].format(mb=MOST_BYTES // 1024 // 1024)
        return answer_page(request, link, secret, typed=_typed(request, wrong.field or "things", said))
    where = reverse("owner-page", args=[secret], urlconf=URLS)
    return HttpResponse(status=303, headers={"Location": f"{where}?thanks=1"})


def _given(request: HttpRequest, message: Message) -> Given:
    kind = request.POST.get("kind", "")
    if kind not in KINDS:
        raise AnswerWrong("what", field="kind")
    stored = ""
    sent = request.FILES.get("proof")
    if sent is not None and kind == Answer.Kind.ELSEWHERE:
        if not may_send_proof(message):
            raise AnswerWrong("many", field="proof")
        if (sent.size or 0) > MOST_BYTES:
            raise AnswerWrong("proof", field="proof")
        try:
            stored = paper(sent.read()).keep()
        except NotAPaper as error:
            raise AnswerWrong("proof", field="proof") from error
    return Given(
        kind=kind,
        things=_numbers(request, "thing"),
        animals=_numbers(request, "animal"),
        words=request.POST.get("words", ""),
        done_on=_day(request.POST.get("done_on", "")),
        stored=stored,
    )


def _typed(request: HttpRequest, field: str, said: str) -> Typed:
    return Typed(
        kind=request.POST.get("form", ""),
        values={name: request.POST.get(name, "")[:280] for name in TYPED},
        chosen=frozenset(_numbers(request, "thing") + _numbers(request, "animal")),
        wrong={field: said},
    )


def _numbers(request: HttpRequest, name: str) -> tuple[int, ...]:
    given = request.POST.getlist(name)[:100]
    return tuple(int(each) for each in given if each.isascii() and each.isdigit() and len(each) < 16)


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text.strip()[:10])
    except ValueError:
        return None


# --- For staff ----------------------------------------------------------------------------------------------


@require_GET
@needs(Right.SEE)
def answers(request: StaffRequest) -> HttpResponse:
    """What owners answered and nobody has dealt with; below it what was settled lately."""
    return _answers(request)


def _answers(
    request: StaffRequest, *, wrong: BookAnswerForm | ElsewhereForm | None = None, of: int = 0
) -> HttpResponse:
    context = {
        "waiting": answer_lists.waiting(today=timezone.localdate(), wrong=wrong, of=of),
        "settled": answer_lists.settled_lately(now=timezone.now()),
        "may": request.actor.may(Right.NOTE_CONTACT),
        "may_book": request.actor.may(Right.BOOK),
        "may_record": request.actor.may(Right.TAKE_HISTORY),
    }
    return render(request, "clinic/callbacks/answers.html", context, status=WRONG if wrong else 200)


@require_safe
@needs(Right.SEE)
def proof(request: StaffRequest, answer_id: int) -> HttpResponse:
    """The picture they sent, written anew when it came. A PDF is saved, never shown by this origin."""
    row = get_object_or_404(Answer.objects.exclude(proof=""), pk=answer_id)
    return stored_file(row.proof, name=f"proof-{row.pk}{row.proof[row.proof.rindex('.') :]}")


@require_POST
@needs(Right.BOOK)
def book(request: StaffRequest, answer_id: int) -> HttpResponse:
    row = get_object_or_404(Answer.objects.select_related("patient"), pk=answer_id, kind=Answer.Kind.BOOK)
    form = BookAnswerForm(request.POST, prefix=str(row.pk))
    if not form.is_valid():
        return _answers(request, wrong=form, of=row.pk)
    on, at = form.cleaned_data["on"], form.cleaned_data["at"]
    expected_at = timezone.make_aware(datetime.combine(on, at or time.min))
    try:
        visit = book_answer(answer=row, expected_at=expected_at, actor=request.actor, now=timezone.now())
    except VisitError as error:
        form.add_error("on", str(error))
        return _answers(request, wrong=form, of=row.pk)
    if visit is None:
        messages.warning(request, "This was settled, or taken back, before.")
    else:
        messages.success(request, f"{row.patient.name} is booked for {on:%A} {on.day} {on:%B}. Tell them.")
    return redirect("due-answers")


@require_POST
@needs(Right.TAKE_HISTORY)
def accept(request: StaffRequest, answer_id: int) -> HttpResponse:
    row = get_object_or_404(
        Answer.objects.select_related("patient"), pk=answer_id, kind=Answer.Kind.ELSEWHERE
    )
    form = ElsewhereForm(request.POST, prefix=str(row.pk))
    if not form.is_valid():
        return _answers(request, wrong=form, of=row.pk)
    try:
        done = accept_elsewhere(
            answer=row, read=Outside(**form.cleaned_data), actor=request.actor, now=timezone.now()
        )
    except VisitError as error:
        form.add_error("words", str(error))
        return _answers(request, wrong=form, of=row.pk)
    if done:
        messages.success(request, f"{row.patient.name}: {row.label} is noted as done elsewhere.")
    else:
        messages.warning(request, "This was settled, or taken back, before.")
    return redirect("due-answers")


@require_http_methods(["GET", "HEAD", "POST"])
@needs(Right.NOTE_CONTACT)
def write_back(request: StaffRequest, answer_id: int) -> HttpResponse:
    """A mail in one's own words to the owner who answered."""
    rows = Answer.objects.select_related("patient", "owner").prefetch_related("owner__phones")
    row = get_object_or_404(rows, pk=answer_id)
    form = ReplyForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            reply(answer=row, **form.cleaned_data, actor=request.actor, now=timezone.now())
        except SentBefore:
            return redirect("due-answers")
        except CallBackError as error:
            form.add_error("words", str(error))
        else:
            messages.success(request, f"Your mail to {row.owner.name} is on its way.")
            return redirect("due-answers")
    context = {
        "row": row,
        "form": form,
        "why_not": why_not(row.owner, row.patient),
        "replies": [(each, told(each.state, each.state_why)) for each in replies_to([row]).get(row.pk, [])],
        "language": ""
        if row.owner.language == FIRST
        else language_names().get(row.owner.language, row.owner.language),
    }
    return render(request, "clinic/callbacks/reply.html", context, status=WRONG if form.errors else 200)


@require_POST
@needs(Right.NOTE_CONTACT)
def settle(request: StaffRequest, answer_id: int) -> HttpResponse:
    row = get_object_or_404(Answer, pk=answer_id)
    if not settle_answer(answer=row, actor=request.actor, now=timezone.now()):
        messages.warning(request, "This was settled, or taken back, before.")
    return redirect("due-answers")


@require_POST
@needs(Right.NOTE_CONTACT)
def undo(request: StaffRequest, answer_id: int) -> HttpResponse:
    row = get_object_or_404(Answer.objects.select_related("patient"), pk=answer_id)
    if undo_answer(answer=row, actor=request.actor, now=timezone.now()):
        messages.success(request, f"Taken back: {row.patient.name} is asked about again.")
    else:
        messages.warning(request, "This was taken back before.")
    return redirect("due-answers")
