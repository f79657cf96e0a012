"""Pages of photographs as plain values: all of a patient by place, and two of them side by side."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from django.urls import reverse

from clinic.patients.models import Patient
from exams.models import ExamPhoto
from exams.pages import SignedStation
from exams.photos import LUMP, Names, Photo, names_of, photo_of, photos_of, struck_photos_of

ELSEWHERE = ""  # a place that is no station's: lumps


@dataclass(frozen=True)
class Place:
    """Photographs of one target, the newest first. `compare`: two of different days side by side, if any."""

    title: str
    photos: tuple[Photo, ...]
    compare: str


@dataclass(frozen=True)
class PhotosPage:
    patient_name: str
    patient_url: str
    places: tuple[Place, ...]
    struck: tuple[Photo, ...]


@dataclass(frozen=True)
class Choice:
    """A photograph that may stand at one side, and the address that puts it there."""

    photo: Photo
    url: str
    here: bool


@dataclass(frozen=True)
class Side:
    title: str
    photo: Photo
    choices: tuple[Choice, ...]


@dataclass(frozen=True)
class BesidePage:
    """One photograph, or two; `others` may be put beside it."""

    title: str
    patient_name: str
    patient_url: str
    all_url: str
    sides: tuple[Side, ...]
    others: tuple[Choice, ...]
    alone_url: str
    history_url: str


def all_of(patient: Patient) -> PhotosPage:
    """Three queries."""
    names = names_of(patient)
    shown = [photo_of(row, names) for row in photos_of(patient)]
    return PhotosPage(
        patient.name,
        reverse("patient", args=[patient.pk]),
        places_of(shown),
        tuple(photo_of(row, names) for row in struck_photos_of(patient)),
    )


def places_of(shown: Iterable[Photo]) -> tuple[Place, ...]:
    """By target; the place photographed last comes first."""
    by_target: dict[str, list[Photo]] = {}
    for each in shown:
        by_target.setdefault(each.target, []).append(each)
    return tuple(Place(each[0].place, tuple(each), compare_url(each)) for each in by_target.values())


def compare_url(newest_first: list[Photo]) -> str:
    """The last photograph with the last one of an earlier day at its left; empty when there is none."""
    earlier = next((p for p in newest_first if p.day < newest_first[0].day), None)
    return f"{earlier.page}?beside={newest_first[0].id}" if earlier else ""


def beside(patient: Patient, left: ExamPhoto, right: ExamPhoto | None) -> BesidePage:
    """Both may be of any place; offered are those of the same place. Two queries."""
    names = names_of(patient)
    first, second = photo_of(left, names), photo_of(right, names) if right else None
    same = [photo_of(row, names) for row in photos_of(patient) if row.target == left.target]
    sides: tuple[Side, ...]
    if second is None:
        sides, others = (Side("", first, ()),), _choices(same, keep=first, side="right")
    else:
        sides = (
            Side("Left", first, _choices(same, keep=second, side="left", here=first)),
            Side("Right", second, _choices(same, keep=first, side="right", here=second)),
        )
        others = ()
    structure = left.target.partition("|")[0]
    return BesidePage(
        title=first.place,
        patient_name=patient.name,
        patient_url=reverse("patient", args=[patient.pk]),
        all_url=reverse("patient-photos", args=[patient.pk]),
        sides=sides,
        others=others,
        alone_url=first.page,
        history_url=""
        if left.target.startswith(LUMP)
        else reverse("structure-history", args=[patient.pk, structure]),
    )


def _choices(same: list[Photo], *, keep: Photo, side: str, here: Photo | None = None) -> tuple[Choice, ...]:
    """What may stand at `side` while `keep` stands at the other."""
    return tuple(
        Choice(
            each,
            f"{each.page}?beside={keep.id}" if side == "left" else f"{keep.page}?beside={each.id}",
            here is not None and each.id == here.id,
        )
        for each in same
        if each.id != keep.id
    )


def with_photos(
    stations: tuple[SignedStation, ...], rows: Iterable[ExamPhoto], names: Names
) -> tuple[tuple[SignedStation, ...], tuple[Photo, ...]]:
    """A signed exam's stations with their photographs, and those of no station (lumps)."""
    by_station: dict[str, list[Photo]] = {}
    for row in rows:
        by_station.setdefault(station_of(row.target), []).append(photo_of(row, names))
    placed = tuple(replace(s, photos=tuple(by_station.pop(s.code, ()))) for s in stations)
    return placed, tuple(photo for rest in by_station.values() for photo in rest)


def station_of(target: str) -> str:
    return ELSEWHERE if target.startswith(LUMP) else target.partition(".")[0]
