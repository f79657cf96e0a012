"""Writes all that was recorded for one patient into a folder."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from clinic.patients.models import Patient
from clinic.people.actor import Actor, NotAllowed
from clinic.people.models import Staff
from clinic.records.export import NotEmpty, files_of, write


class Command(BaseCommand):
    help = "Writes all that was recorded for one patient as JSON into a new folder, with a list of it."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("patient", type=int, metavar="PATIENT", help="the number in its page's address")
        parser.add_argument(
            "folder", type=Path, metavar="DIR", help="made where it does not exist, else empty"
        )
        parser.add_argument(
            "--for", required=True, dest="email", help="whoever asked for it signs in with it"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        folder: Path = options["folder"]
        try:
            actor = Actor.of(Staff.objects.get_by_natural_key(options["email"]))
            patient = Patient.objects.get(pk=options["patient"])
            files = files_of(patient, actor=actor, now=timezone.now())
            write(files, folder)
        except Staff.DoesNotExist as error:
            raise CommandError(f"Nobody here signs in as {options['email']}.") from error
        except Patient.DoesNotExist as error:
            raise CommandError(f"There is no patient {options['patient']}.") from error
        except NotAllowed as error:
            raise CommandError(f"{options['email']}: {error}") from error
        except NotEmpty as error:
            raise CommandError(f"{folder} is not empty.") from error
        except OSError as error:
            raise CommandError(f"{folder} cannot be written: {error}") from error
        self.stdout.write(f"{len(files)} files written to {folder}.")
