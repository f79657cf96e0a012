"""The letter's preview, its correction, its page and its PDF; what was sent."""

from datetime import datetime
from typing import Any

from django.conf import settings
from django.contrib import messages as said
from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.dateparse import parse_datetime
from django.views.decorators.http import require_GET, require_POST

from clinic.letters import actions, pages, queries
from clinic.letters.composition import first_owner
from clinic.letters.document import from_json
from clinic.letters.forms import WordsForm
from clinic.letters.models import Letter
from clinic.letters.texts import SOURCE, plain_words
from clinic.mail import actions as mail
from clinic.mail.telling import MARKS
from clinic.mail.transport import letter_file_name
from clinic.owner_page.queries import links_of, readers_of
from clinic.people.actor import NotAllowed
from clinic.people.rights import Right
from clinic.platform.files import read
from clinic.platform.http import StaffRequest, needs
from clinic.platform.queries import name_for

MAKING = 202


@require_GET
@needs(Right.SEE)
def letter_sentence(request: StaffRequest, visit_id: int) -> HttpResponse:
    """Where one sentence of the preview comes from, with the form that corrects it."""
    record = queries.access_record(request.actor, visit_id)
    can = request.actor.may(Right.SIGN) and not record.is_signed
    origin = pages.origin(record, request.GET.get("key", ""), today=timezone.localdate(), can_correct=can)
    if origin is None:
        raise Http404
    first = {"sentence": origin.sentence.key, "words": plain_words(origin.sentence.text)}
    form = WordsForm(initial=first, letter_language=origin.language)
    return render(request, "letters/origin.html", {"origin": origin, "form": form})


@require_POST
@needs(Right.SIGN)
def letter_correct(request: StaffRequest, visit_id: int) -> HttpResponse:
    """Take a sentence's correction, or its first wording back."""
    record = queries.access_record(request.actor, visit_id)
    key = request.POST.get("sentence", "")
    if "first" in request.POST:
        actions.first_wording_again(actor=request.actor, now=timezone.now(), record=record, sentence=key)
        return redirect(f"{reverse('visit-sign', args=[visit_id])}#letter")
    form = WordsForm(request.POST, letter_language=first_owner(record).language)
    if not form.is_valid():
        origin = pages.origin(record, key, today=timezone.localdate(), can_correct=True)
        if origin is None:
            raise Http404
        context = {"origin": origin, "form": form, "visit_id": visit_id}
        return render(request, "letters/origin_page.html", context, status=422)
    try:
        actions.correct_sentence(
            actor=request.actor,
            now=timezone.now(),
            record=record,
            sentence=key,
            words=form.cleaned_data["words"],
            language=form.cleaned_data.get("language") or SOURCE,
        )
    except actions.NoSuchSentence as none:
        raise Http404 from none
    return redirect(f"{reverse('visit-sign', args=[visit_id])}#letter")


@require_GET
@needs(Right.SEE)
def letter(request: StaffRequest, letter_id: int) -> HttpResponse:
    """One frozen letter: its text, its versions, what became of its mails."""
    found = queries.access_letter(request.actor, letter_id)
    versions = queries.versions(found)
    context = {
        **pages.frozen_context(found, from_json(found.content)),
        "patient_url": reverse("patient", args=[found.patient_id]),
        "has_file": hasattr(found, "file"),
        "versions": versions,
        "newer": versions[0] if versions[0].version > found.version else None,
        "going": queries.messages_of(found, clinic=name_for(request), now=timezone.now()),
        "this_version": found.version,
        "can_send": request.actor.may(Right.SEND_LETTER),
        "can_decide": request.actor.may(Right.ASSESS),
        "handed": queries.handed_words(found),
        "let_go_to": queries.let_go_to(found),
        **_readers(request, found),
    }
    return render(request, "letters/page.html", context)


def _readers(request: StaffRequest, found: Letter) -> dict[str, Any]:
    """Who reads it by a link, and who else may be sent it. A condolence has neither."""
    if found.kind == Letter.Kind.CONDOLENCE:
        return {"readers": (), "links": ()}
    return {
        "readers": readers_of(found),
        "links": links_of(found, now=timezone.now()),
        "has_pages": bool(settings.PUBLIC_URL),
        "may_reach": request.actor.may(
            Right.ASSESS if found.patient.deceased_on is not None else Right.SEND_LETTER
        ),
    }


@require_GET
@needs(Right.SEE)
def letter_pdf(request: StaffRequest, letter_id: int) -> HttpResponseBase:
    """The stored bytes; while the worker still makes them, a page that says so and asks again."""
    found = queries.access_letter(request.actor, letter_id)
    if not hasattr(found, "file"):
        return render(request, "letters/making.html", {"letter_id": letter_id}, status=MAKING)
    sha = found.file.sha256
    response = HttpResponse(read(f"{sha[:2]}/{sha}.pdf"), content_type="application/pdf")
    response["Content-Disposition"] = _inline(letter_file_name(found))
    return response


@require_POST
@needs(Right.SEND_LETTER)
def letter_make(request: StaffRequest, letter_id: int) -> HttpResponse:
    """Make the PDF of a letter that came without one; the page it leads to waits for it."""
    found = queries.access_letter(request.actor, letter_id)
    actions.make_file(actor=request.actor, now=timezone.now(), letter=found)
    return redirect("letter-pdf", letter_id)


@require_POST
@needs(Right.SEND_LETTER)
def letter_handed(request: StaffRequest, letter_id: int) -> HttpResponse:
    """Noted that the owner was given it on paper; a second tap changes nothing."""
    found = queries.access_letter(request.actor, letter_id)
    actions.note_handed(letter=found, actor=request.actor, now=timezone.now())
    said.success(request, "Noted: the owner has it on paper.")
    return redirect("letter", letter_id)


@require_POST
@needs(Right.ASSESS)
def letter_let_go(request: StaffRequest, letter_id: int) -> HttpResponse:
    """After a death: this letter leaves by mail because a clinician says so."""
    found = queries.access_letter(request.actor, letter_id)
    document = from_json(found.content)
    sent = mail.let_go(letter=found, document=document, actor=request.actor, now=timezone.now())
    if sent:
        said.success(request, f"It goes to {sent.to_address}.")
    else:
        said.info(request, "No mail carries this letter; print it, or look below whether one does already.")
    return redirect("letter", letter_id)


def _inline(name: str) -> str:
    plain = name.encode("ascii", "replace").decode().replace("?", "_")
    return f'inline; filename="{plain}"'


@require_GET
@needs(Right.SEE_OUTBOX)
def messages(request: StaffRequest) -> HttpResponse:
    """What was sent, when, what failed and why."""
    before = _moment(request.GET.get("before", "").replace(" ", "+"))
    state = request.GET.get("state", "")
    page = queries.what_was_sent(
        clinic=name_for(request), now=timezone.now(), state=state if state in MARKS else "", before=before
    )
    states = [(code, words) for code, (_, _, words) in MARKS.items()]
    context = {
        "page": page,
        "state": state,
        "states": states,
        "to_look_at": queries.to_look_at(timezone.now()),
        "can_send": request.actor.may(Right.SEND_LETTER),
        "can_decide": request.actor.may(Right.ASSESS),
    }
    return render(request, "letters/messages.html", context)


def _moment(text: str) -> datetime | None:
    """An aware time as a page of ours wrote it; None for anything else."""
    try:
        at = parse_datetime(text)
    except ValueError:
        return None
    return at if at and at.tzinfo else None


@require_POST
@needs(Right.SEND_LETTER)
def message_again(request: StaffRequest, message_id: str) -> HttpResponse:
    """Send one once more; a second tap meets one that is already waiting and changes nothing."""
    message = queries.access_message(request.actor, message_id)
    try:
        mail.send_again(
            actor=request.actor,
            now=timezone.now(),
            message=message,
            seen=_moment(request.POST.get("since", "")),
        )
    except mail.CannotSendAgain:
        said.info(request, "It is on its way already.")
    except NotAllowed:
        said.error(
            request,
            "Whether it leaves after the death is a clinician’s decision; a condolence, its author’s.",
        )
    else:
        message.refresh_from_db()
        said.success(request, f"It goes again to {message.to_address}.")
    if message.letter_id and "letter" in request.POST:
        return redirect("letter", message.letter_id)
    return redirect("morning" if "morning" in request.POST else "messages")
