"""What staff do about who reads a letter: links for owners, other readers, mails that came back."""

from uuid import UUID

from django.contrib import messages as said
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from clinic.letters.models import Letter
from clinic.letters.queries import access_letter, access_message
from clinic.mail import bounces, further
from clinic.owner_page import actions, queries
from clinic.owner_page.forms import NOW, ColleagueForm
from clinic.owner_page.texts import texts
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.promises.models import Contact
from clinic.promises.queries import owners_of
from clinic.summaries.consent import Consent, consents_of, noted_words
from clinic.visits.errors import SentBefore, VisitError

WRONG = 422


def _back(letter_id: int, place: str = "readers") -> HttpResponse:
    return redirect(f"{reverse('letter', args=[letter_id])}#{place}")


@require_POST
@needs(Right.SEND_LETTER)
def link_make(request: StaffRequest, letter_id: int) -> HttpResponse:
    """A link for one of the letter's readers, to be handed over."""
    letter = access_letter(request.actor, letter_id)
    owner = queries.access_reader(letter, request.POST.get("owner", ""))
    try:
        link = actions.make_letter_link(letter=letter, owner=owner, actor=request.actor, now=timezone.now())
    except actions.NoPublicAddress:
        said.error(request, "Owners have no pages here: the setting PUBLIC_URL is empty.")
    except actions.NotTheirs:
        said.error(request, "This letter is not theirs to read.")
    else:
        until = timezone.localtime(link.expires_at)
        said.success(request, f"{owner.name} can read the letter there until {until:%-d %B %Y}.")
    return _back(letter_id)


@require_POST
@needs(Right.SEND_LETTER)
def link_revoke(request: StaffRequest, link_id: UUID) -> HttpResponse:
    """From now on it opens nothing; a second tap changes nothing."""
    link = queries.access_link(link_id, actor=request.actor)
    try:
        actions.revoke_link(link=link, actor=request.actor, now=timezone.now())
    except actions.Revoked:
        said.info(request, "It was revoked already.")
    else:
        said.success(request, f"{link.owner.name}’s link opens nothing any more.")
    return _back(link.letter_id) if link.letter_id else redirect("messages")


@require_POST
@needs(Right.SEND_LETTER)
def send(request: StaffRequest, letter_id: int) -> HttpResponse:
    """To another owner of the patient, or to whom no mail carried it yet."""
    letter = access_letter(request.actor, letter_id)
    owner = queries.access_reader(letter, request.POST.get("owner", ""))
    try:
        message = further.send_to_owner(letter=letter, owner=owner, actor=request.actor, now=timezone.now())
    except further.GoesAlready:
        said.info(request, "A mail to them carries it already: look under “By e-mail”.")
    except (further.NoMailTo, actions.NotTheirs):
        said.error(request, f"{owner.name} gets no mail with this letter: no address, or paper wanted.")
    else:
        said.success(request, f"It goes to {message.to_address}.")
    return _back(letter_id, "sent-h")


@require_http_methods(["GET", "POST"])
@needs(Right.SEND_LETTER)
def colleague(request: StaffRequest, letter_id: int) -> HttpResponse:
    """The form; a POST notes the consent where it was not, and sends the letter."""
    letter = access_letter(request.actor, letter_id)
    stands = [each for each in consents_of(letter.patient) if each.kind == Contact.Kind.CONSENT]
    noted = {str(each.pk): each for each in stands}
    owners = owners_of(letter.patient)
    form = ColleagueForm(
        request.POST or None,
        noted=[(key, noted_words(each)) for key, each in noted.items()],
        languages=[(code, texts(code).name) for code in queries.documents_of(letter)],
        initial={"consent_by": owners[0].name if owners else ""},
    )
    if request.method == "POST" and form.is_valid():
        answer = _to_colleague(request, letter, form, noted)
        if answer is not None:
            return answer
    withheld = [
        noted_words(each) for each in consents_of(letter.patient) if each.kind == Contact.Kind.WITHHELD
    ]
    context = {"letter": letter, "patient": letter.patient, "form": form, "withheld": withheld}
    status = WRONG if request.method == "POST" else 200
    return render(request, "letters/colleague.html", context, status=status)


def _to_colleague(
    request: StaffRequest, letter: Letter, form: ColleagueForm, noted: dict[str, Contact]
) -> HttpResponse | None:
    asked = form.cleaned_data
    how = asked["consent_how"]
    own = Consent(who=asked["consent_by"], how=how)
    consent = own if asked["consent"] == NOW else Consent(noted=noted.get(asked["consent"]), how=how)
    try:
        message = further.send_to_colleague(
            letter=letter,
            to_whom=asked["to_whom"],
            address=asked["address"],
            consent=consent,
            language=asked.get("language", ""),
            once=asked["once"],
            actor=request.actor,
            now=timezone.now(),
        )
    except further.GoesAlready:
        form.add_error("address", "A mail to this address carries the letter already.")
    except actions.NotTheirs:
        form.add_error(None, "A letter of condolence goes to its owner alone.")
    except SentBefore:
        return _back(letter.pk, "sent-h")
    except VisitError as error:
        field = getattr(error, "field", None)
        form.add_error(field if field in form.fields else None, str(error))
    else:
        said.success(request, f"It goes to {message.to_address}.")
        return _back(letter.pk, "sent-h")
    return None


@require_POST
@needs(Right.SEND_LETTER)
def came_back(request: StaffRequest, message_id: UUID) -> HttpResponse:
    """A mail that left came back: noted on the message, and on the owner's address."""
    message = access_message(request.actor, str(message_id))
    try:
        bounces.note_came_back(
            message=message, why=request.POST.get("why", ""), actor=request.actor, now=timezone.now()
        )
    except bounces.NotSent:
        said.info(request, "Only what has left can come back; look at its state.")
    else:
        said.success(request, f"Noted: {message.to_address} does not work. Tell them another way.")
    return _back(message.letter_id, "sent-h") if message.letter_id else redirect("messages")
