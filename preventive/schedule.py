"""What is due for one animal: a pure function of the animal, its history, the protocol and a date."""

from datetime import date

from preventive.care import care_dues
from preventive.case import Case
from preventive.deworming import deworming_dues
from preventive.due import Due
from preventive.facts import Animal, History
from preventive.heartworm import heartworm_dues
from preventive.protocol import Protocol
from preventive.rabies import rabies_dues
from preventive.screening import screening_dues
from preventive.supplies import prevention_dues
from preventive.vaccines import vaccine_dues


def due_items(animal: Animal, history: History, protocol: Protocol, on: date) -> tuple[Due, ...]:
    """Every protocol item of the animal's species, whether due, complete or not meant for it.

    ``on`` is the clinic's local date; the jurisdiction is the protocol's. Nothing here asks a clock.
    The order is fixed: rabies, vaccines, tests, prevention, deworming, exams and dental care.
    """
    case = Case(animal, history, protocol, on)
    return (
        *rabies_dues(case),
        *vaccine_dues(case),
        *heartworm_dues(case),
        *screening_dues(case),
        *prevention_dues(case),
        *deworming_dues(case),
        *care_dues(case),
    )


def due_item(animal: Animal, history: History, protocol: Protocol, on: date, code: str) -> Due:
    """One item by its code. Raises KeyError where the species has no such item."""
    for due in due_items(animal, history, protocol, on):
        if due.code == code:
            return due
    raise KeyError(code)
