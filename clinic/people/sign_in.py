"""A full sign-in without `login()`, which would end the session and every open page on the tablet."""

from allauth.account.adapter import get_adapter
from allauth.mfa.base.forms import BaseAuthenticateForm
from allauth.mfa.utils import is_mfa_enabled
from django.core.exceptions import ValidationError
from django.http import HttpRequest

from clinic.people.models import Staff


class SignInRefused(Exception):
    """Why not, as a sentence, and the field it belongs to."""

    def __init__(self, field: str, words: str) -> None:
        self.field = field
        super().__init__(words)


def check_full_sign_in(request: HttpRequest, *, email: str, password: str, code: str) -> Staff:
    """The person whose e-mail address, password and (where they have one) second step these are.

    Raises SignInRefused. Tries are limited by the same counters as the sign-in page's.
    """
    try:
        staff = get_adapter(request).authenticate(request, email=email, password=password)
    except ValidationError as error:
        raise SignInRefused("email", " ".join(error.messages)) from error
    if staff is None or not staff.is_active:
        raise SignInRefused("password", "This e-mail address and password do not belong together.")
    if is_mfa_enabled(staff):
        _check_code(staff, code)
    return staff  # type: ignore[no-any-return]


def _check_code(staff: Staff, code: str) -> None:
    if not code:
        raise SignInRefused(
            "code", "Your sign-in has a second step: enter the code from your app, or a recovery code."
        )
    form = BaseAuthenticateForm({"code": code}, user=staff)
    if not form.is_valid():
        raise SignInRefused("code", " ".join(form.errors["code"]))
    form.authenticator.record_usage()
