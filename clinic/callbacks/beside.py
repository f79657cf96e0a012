"""What stands beside the due list: somebody waits for it as well, though nobody has to be called for it."""

from dataclasses import dataclass
from datetime import date

from django.urls import reverse

from clinic.callbacks.reasons import counted
from clinic.visits.day import unread_results, unsigned_of_earlier_days


@dataclass(frozen=True)
class Beside:
    words: str
    url: str


def beside(today: date) -> list[Beside]:
    """Results nobody has read, records not signed: in words, with the page that lists them. Two queries."""
    found = []
    if results := len(unread_results()):
        found.append(Beside(counted(results, "result nobody has read", "results nobody has read"), "r"))
    if unsigned := len(unsigned_of_earlier_days(today)):
        words = counted(unsigned, "record of an earlier day not signed", "records of earlier days not signed")
        found.append(Beside(words, "u"))
    return [Beside(each.words, f"{reverse('today')}#{each.url}") for each in found]
