"""Begins a real practice: the clinic's details, and the first person who may invite the others."""

import getpass
import sys
from argparse import ArgumentParser
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.core.validators import validate_email
from django.utils import timezone

from clinic.people.actions import PeopleError
from clinic.people.joining import first_manager
from clinic.platform.models import ClinicDetails

QUESTIONS = {
    "clinic": "Name of the clinic",
    "street": "Street",
    "city": "City",
    "country": "Country, two letters as US or CA",
    "phone": "Telephone of the clinic",
    "clinic_email": "E-mail of the clinic",
    "emergency_name": "Who answers out of hours",
    "emergency_phone": "Telephone out of hours",
}


class Command(BaseCommand):
    help = (
        "Begins a practice that holds nobody yet: asks for what is missing, then for a password. "
        "Everything else is changed on the Records pages later."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--email", required=True, help="the manager signs in with it")
        parser.add_argument("--name", required=True, help="the manager's name")
        for name, question in QUESTIONS.items():
            parser.add_argument(f"--{name.replace('_', '-')}", default="", help=question)
        parser.add_argument(
            "--password-from-stdin", action="store_true", help="read the password's line instead of asking"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            validate_email(options["email"])
            clinic = {} if ClinicDetails.objects.exists() else self._clinic(options)
            password = _piped() if options["password_from_stdin"] else _asked()
            staff = first_manager(
                email=options["email"],
                full_name=options["name"],
                password=password,
                clinic=clinic,
                now=timezone.now(),
            )
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from error
        except PeopleError as error:
            raise CommandError(str(error)) from error
        self.stdout.write(
            f"{staff.full_name} signs in as {staff.email} and invites the others under Records."
        )

    def _clinic(self, options: dict[str, Any]) -> dict[str, str]:
        asked = {name: options[name] or self._ask(question) for name, question in QUESTIONS.items()}
        missing = [QUESTIONS[name] for name, value in asked.items() if not value]
        if missing:
            raise CommandError(f"Still missing: {'; '.join(missing)}. Every letter needs them.")
        asked["country"] = asked["country"].upper()
        if len(asked["country"]) != 2 or not asked["country"].isalpha():
            raise CommandError("The country has two letters, as in ISO 3166: US, CA, GB.")
        asked["name"], asked["email"] = asked.pop("clinic"), asked.pop("clinic_email")
        validate_email(asked["email"])
        return asked

    def _ask(self, question: str) -> str:
        return input(f"{question}: ").strip() if sys.stdin.isatty() else ""


def _piped() -> str:
    return sys.stdin.readline().rstrip("\n")


def _asked() -> str:
    password = getpass.getpass("Password (ten signs or more): ")
    if password != getpass.getpass("The same password again: "):
        raise CommandError("The two passwords differ.")
    return password
