"""Writes every letter of the database as a PDF into a folder."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from clinic.letters.export import export


class Command(BaseCommand):
    help = (
        "Writes every letter as a PDF into a folder, also each earlier version. Files that are there stay as "
        "they are, so an export that was broken off is gone on with by the same command."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", type=Path, metavar="DIR", help="made where it does not exist")

    def handle(self, *args: Any, **options: Any) -> None:
        folder: Path = options["folder"]
        try:
            count = export(folder, say=self.stderr.write)
        except OSError as error:
            raise CommandError(f"{folder} cannot be written: {error}") from error
        self.stdout.write(f"{count.written} written, {count.there} were there, {count.wrong} could not be.")
        if count.wrong:
            raise CommandError(f"{count.wrong} letters are missing in {folder}: see above.")
