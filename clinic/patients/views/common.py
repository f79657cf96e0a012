"""What the pages of owners and patients share."""

from collections.abc import Callable

from django import forms
from django.contrib import messages

from clinic.patients.errors import LikelyDouble, PatientError, SentBefore
from clinic.people.phones import NotAPhone
from clinic.platform.http import StaffRequest

WRONG = 422


def refused(form: forms.Form, error: PatientError | NotAPhone) -> None:
    """The action's sentence beside its field, or over the form."""
    field = getattr(error, "field", "")
    form.add_error(field if field in form.fields else None, str(error))


def carry_out(request: StaffRequest, form: forms.Form, act: Callable[[], object], said: str) -> bool:
    """Run one action for a form that is valid. False: it was refused, and the form says why.

    A form that comes a second time has been carried out already: that is said, and counts as done.
    """
    try:
        act()
    except SentBefore as error:
        messages.info(request, str(error))
        return True
    except LikelyDouble:
        raise
    except (PatientError, NotAPhone) as error:
        refused(form, error)
        return False
    messages.success(request, said)
    return True
