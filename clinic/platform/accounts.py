"""What of sign-in differs from django-allauth's defaults: nobody makes an account without an invitation."""

from allauth.account.adapter import DefaultAccountAdapter
from django.http import HttpRequest


class ClosedSignUp(DefaultAccountAdapter):  # type: ignore[misc]
    """Accounts come from invitations only."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False
