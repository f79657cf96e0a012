"""What would be proposed from a text: for trying words out, and for scoring."""

import json
import sys
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from exams.spoken import About, UnknownLanguage, hear, vocabulary_of
from exams.spoken.shown import plain
from exams.versions import published

SEXES = ("male-intact", "male-neutered", "female-intact", "female-spayed", "male", "female")


class Command(BaseCommand):
    help = (
        "Prints what is heard in a spoken exam. Nothing is stored; FILE is plain text, - reads what comes in."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file")
        parser.add_argument("--species", choices=("dog", "cat"), required=True)
        parser.add_argument("--sex", choices=SEXES, default="")
        parser.add_argument("--age-months", type=float, default=None)
        parser.add_argument("--language", default="en")
        parser.add_argument("--json", action="store_true", help="everything, as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            text = (
                sys.stdin.read()
                if options["file"] == "-"
                else Path(options["file"]).read_text(encoding="utf-8")
            )
        except (OSError, UnicodeDecodeError) as error:
            raise CommandError(f"{options['file']}: {error}") from error
        walk = published()
        try:
            vocabulary = vocabulary_of(walk, language=options["language"])
        except UnknownLanguage as error:
            raise CommandError(str(error)) from error
        about = About(options["species"], options["sex"], options["age_months"], options["language"])
        found = plain(hear(text, about, vocabulary), text, walk)
        if options["json"]:
            self.stdout.write(json.dumps(found, ensure_ascii=False, indent=1))
            return
        for m in found["measurements"]:
            self.stdout.write(f"{m['what']}: {m['value']} {m['unit']}   “{m['words']}”")
        for f in found["findings"]:
            codes = " ".join(f["codes"]) or ("in part" if f["partial"] else "")
            place = " ".join(x for x in (f["side"].replace("none", ""), f["site"]) if x)
            self.stdout.write(
                f"{f['station']} {f['structure']} {place}: {f['state'].replace('_', ' ')} {codes}"
                f"   “{f['words']}” ({f['confidence']:.2f}, {f['reason']})"
            )
        for name in ("heads_ups", "plan"):
            for line in found[name]:
                self.stdout.write(f"{name.replace('_', ' ')}: “{line['words']}”")
        for q in found["questions"]:
            self.stdout.write(
                f"said twice differently: {q['structure']} {q['side']} {q['what']}: {q['words']}"
            )
