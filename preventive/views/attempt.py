"""One attempt at an action from a form: done, or the sentence that says why not."""

from collections.abc import Callable

from django.forms import BaseForm
from django.utils import timezone

from clinic.platform.http import StaffRequest
from clinic.visits.errors import SentBefore, VisitError

WRONG = 422


def first_error(form: BaseForm) -> str:
    """The first sentence that says what is wrong."""
    return next((str(error) for errors in form.errors.values() for error in errors), "")


def attempt(form: BaseForm, act: Callable[[], object]) -> str:
    """Empty where it stands now, by this sending or the same one before; else what was refused.

    `act` is called with a form that is valid, so it may read what was cleaned.
    """
    if not form.is_valid():
        return first_error(form)
    try:
        act()
    except SentBefore:
        return ""
    except VisitError as error:
        return str(error)
    return ""


def acted(request: StaffRequest, form: BaseForm, act: Callable[..., object]) -> str:
    """The same for an action that takes what the form cleaned, besides who acts and when."""
    return attempt(form, lambda: act(actor=request.actor, now=timezone.now(), **form.cleaned_data))
