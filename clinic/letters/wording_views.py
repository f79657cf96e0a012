"""The clinic's own words of letters: what was written instead of a text, adopted, declined, taken back."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from django.contrib import messages as said
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from clinic.letters import wording_actions, wordings
from clinic.letters.forms import AdoptForm
from clinic.letters.own_words import filled
from clinic.letters.reading import MEASURES, reading
from clinic.letters.texts import SOURCE, Entry
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs

WRONG, MEANWHILE = 422, 409
MOST_ASKED, SHOWN = 100, 40


@require_safe
@needs(Right.SIGN)
def words(request: StaffRequest) -> HttpResponse:
    """The offers, what the clinic says in its own words, and what was before; any other text by its words."""
    kept = wordings.adopted()
    names = wordings.language_names()
    wanted = " ".join(request.GET.get("text", "").split())[:MOST_ASKED]
    language = request.GET.get("language", SOURCE)
    language = language if language in names else SOURCE
    found = wordings.texts_with(wanted, language)
    context = {
        "offers": wordings.offers(),
        "stand": [each for each in kept if each.stands],
        "earlier": [each for each in kept if not each.stands],
        "wanted": wanted,
        "language": language,
        "languages": names.items(),
        "found": found[:SHOWN],
        "more": len(found) - SHOWN,
    }
    return render(request, "letters/words.html", context)


@dataclass(frozen=True)
class _Edited:
    """A text as its page needs it. `written`: what stood in a letter instead, where something did."""

    text: str
    language: str
    entry: Entry
    written: str
    proposed: Callable[[list[str]], list[str]]
    wrong: Callable[[list[str]], list[str]]
    adopt: Callable[..., object]


@require_http_methods(["GET", "HEAD", "POST"])
@needs(Right.SIGN)
def offer(request: StaffRequest, correction_id: int) -> HttpResponse:
    """One offer, to be edited and adopted."""
    correction = wordings.access_offer(request.actor, correction_id)
    entry = wordings.access_text(request.actor, correction.text, correction.language)

    def proposed(before: list[str]) -> list[str]:
        said = before.copy()
        said[min(correction.form, len(said) - 1)] = correction.offered
        return said

    return _edit(
        request,
        _Edited(
            correction.text,
            correction.language,
            entry,
            correction.words,
            proposed,
            lambda forms: wordings.wrong_as_text(correction, forms, entry),
            partial(wording_actions.adopt, correction=correction),
        ),
    )


@require_http_methods(["GET", "HEAD", "POST"])
@needs(Right.SIGN)
def text(request: StaffRequest, language: str, text_name: str) -> HttpResponse:
    """Any text, to be worded anew."""
    entry = wordings.access_text(request.actor, text_name, language)
    return _edit(
        request,
        _Edited(
            text_name,
            language,
            entry,
            "",
            list,
            lambda _forms: [],
            partial(wording_actions.word_anew, text=text_name, language=language),
        ),
    )


def _edit(request: StaffRequest, of: _Edited) -> HttpResponse:
    stands = wordings.in_force(of.text, of.language)
    before = list(stands.forms if stands else of.entry.forms)
    proposed = of.proposed(before)
    form = AdoptForm(
        request.POST if request.method == "POST" else None,
        entry=of.entry,
        proposed=proposed,
        language=of.language,
        initial={"seen": stands.pk if stands else None},
    )
    status = 200
    if request.method == "POST":
        status = WRONG
        if form.is_valid():
            try:
                of.adopt(
                    forms=form.words(),
                    seen=form.cleaned_data["seen"],
                    reviewed=bool(form.cleaned_data.get("reviewed")),
                    actor=request.actor,
                    now=timezone.now(),
                )
            except wording_actions.CannotAdopt as refused:
                for each in refused.wrong:
                    form.add_error(form.boxes[0], each)
            except wording_actions.ChangedMeanwhile:
                status = MEANWHILE
                form.add_error(None, "Somebody else changed this text meanwhile. Open the list again.")
            else:
                said.success(request, "Letters say it so from now on.")
                return redirect("letter-words")
    tried = form.words() if form.is_bound and form.is_valid() else proposed
    context = {
        "form": form,
        "of": of,
        "names": sorted(of.entry.names),
        "language": wordings.language_names().get(of.language, of.language),
        "before": before,
        "wrong": [] if form.is_bound else of.wrong(proposed),
        "level": _level(tried, of.language),
    }
    return render(request, "letters/words_offer.html", context, status=status)


def _level(forms: list[str], language: str) -> dict[str, object] | None:
    """How hard it reads; None where that is not measured, or the words are no text yet."""
    try:
        told = reading([filled(form) for form in forms], language)
    except ValueError:
        return None
    if language not in MEASURES:
        return None
    return {"reading": told, "measure": told.measure}


@require_POST
@needs(Right.SIGN)
def decline(request: StaffRequest, correction_id: int) -> HttpResponse:
    """It is offered no more; a second tap changes nothing."""
    correction = wordings.access_offer(request.actor, correction_id)
    try:
        wording_actions.decline(correction=correction, actor=request.actor, now=timezone.now())
    except wording_actions.ChangedMeanwhile:
        said.info(request, "Somebody else decided about this text meanwhile.")
    else:
        said.success(request, "It is offered no more. Those letters keep the words that were written.")
    return redirect("letter-words")


@require_POST
@needs(Right.SIGN)
def back(request: StaffRequest, wording_id: int) -> HttpResponse:
    """Take a wording, or a decline, back; a second tap changes nothing."""
    wording = wordings.access_wording(request.actor, wording_id)
    if wording_actions.take_back(wording=wording, actor=request.actor, now=timezone.now()):
        said.success(request, "Taken back. Letters that left keep what they said.")
    else:
        said.info(request, "It was taken back before.")
    return redirect("letter-words")
