"""What of sign-in differs from django-allauth's defaults: nobody makes an account without an invitation."""

from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from clinic.people.models import Staff
from clinic.people.rights import Role


class ClosedSignUp(DefaultAccountAdapter):  # type: ignore[misc]
    """Accounts come from invitations only."""

    def post_login(self, request: HttpRequest, user: Staff, **signed_in: Any) -> HttpResponse:
        """Whoever only manages begins with the morning; everybody who works with animals, with Today.

        Also where Today's address was asked for first, as a bookmark does; any other page stays asked for.
        """
        answer: HttpResponse = super().post_login(request, user, **signed_in)
        if user.role_set == {Role.MANAGER} and answer.headers.get("Location") == reverse("today"):
            answer.headers["Location"] = reverse("morning")
        return answer

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False
