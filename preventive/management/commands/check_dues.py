"""Compares what is stored of every animal's dues with what the record gives; writes only to mend."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from preventive.actions.dues import refresh_many
from preventive.call_backs import Difference, differences, living

AT_ONCE, SHOWN = 200, 50


class Command(BaseCommand):
    help = "Compare the stored call-backs of prevention with the schedule: an error where they differ."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--mend", action="store_true", help="write those that differ anew")

    def handle(self, *args: Any, mend: bool = False, **options: Any) -> None:
        now = timezone.now()
        today = timezone.localdate(now)
        animals, wrong, last = 0, 0, 0
        while patients := list(living().filter(pk__gt=last).order_by("pk")[:AT_ONCE]):
            last = patients[-1].pk
            animals += len(patients)
            found = differences(patients, today=today)
            for each in found[: max(SHOWN - wrong, 0)]:
                self.stdout.write(_words(each))
            wrong += len(found)
            if found and mend:
                refresh_many(ids=sorted({each.patient_id for each in found}), today=today, now=now)
        told = f"{animals} animals, {wrong} rows that differ"
        if wrong and not mend:
            raise CommandError(f"{told}. Write them anew with --mend.")
        self.stdout.write(f"{told}{', written anew' if wrong else ''}.")


def _words(each: Difference) -> str:
    stored = each.stored.due_on.isoformat() if each.stored else "nothing"
    reckoned = each.reckoned.due_on.isoformat() if each.reckoned else "nothing"
    if stored == reckoned:
        stored, reckoned = f"{stored} {each.stored}", f"{reckoned} {each.reckoned}"
    return f"patient {each.patient_id}, {each.key}: stored {stored}, by the record {reckoned}"
