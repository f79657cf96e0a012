"""Filters of the due list under a name. Each change is one transaction."""

from dataclasses import dataclass
from datetime import datetime

from django.db import IntegrityError, transaction
from django.db.models import Q
from django.shortcuts import get_object_or_404

from clinic.callbacks.errors import NameTaken
from clinic.callbacks.manager_models import KeptView
from clinic.people.actor import Actor
from clinic.people.rights import Right


@dataclass(frozen=True)
class ViewRow:
    id: int
    name: str
    asked_for: str
    whose: str
    may_change: bool


def kept_views(actor: Actor) -> list[ViewRow]:
    """The clinic's and this person's own. One query."""
    rows = KeptView.objects.filter(Q(of=None) | Q(of=actor.staff)).order_by("name", "pk")
    manages = actor.may(Right.MANAGE_CLINIC)
    return [
        ViewRow(
            id=each.pk,
            name=each.name,
            asked_for=each.asked_for,
            whose="yours" if each.of_id else "everybody’s",
            may_change=bool(each.of_id) or manages,
        )
        for each in rows
    ]


def access_view(view_id: int, *, actor: Actor) -> KeptView:
    """One that this person may change: their own, or with the right the clinic's."""
    actor.require(Right.SEE)
    mine = Q(of=actor.staff)
    if actor.may(Right.MANAGE_CLINIC):
        mine |= Q(of=None)
    return get_object_or_404(KeptView.objects.filter(mine), pk=view_id)


@transaction.atomic
def keep_view(*, name: str, asked_for: str, everybody: bool, actor: Actor, now: datetime) -> KeptView:
    """Raises NameTaken."""
    actor.require(Right.MANAGE_CLINIC if everybody else Right.SEE)
    try:
        with transaction.atomic():
            return KeptView.objects.create(
                name=" ".join(name.split()),
                asked_for=asked_for,
                of=None if everybody else actor.staff,
                made_by=actor.staff,
                made_at=now,
            )
    except IntegrityError as error:
        raise NameTaken(name) from error


@transaction.atomic
def rename_view(*, view: KeptView, name: str, actor: Actor) -> None:
    """Raises NameTaken."""
    actor.require(Right.SEE if view.of_id == actor.staff.pk else Right.MANAGE_CLINIC)
    try:
        with transaction.atomic():
            KeptView.objects.filter(pk=view.pk).update(name=" ".join(name.split()))
    except IntegrityError as error:
        raise NameTaken(name) from error


@transaction.atomic
def drop_view(*, view: KeptView, actor: Actor) -> None:
    actor.require(Right.SEE if view.of_id == actor.staff.pk else Right.MANAGE_CLINIC)
    KeptView.objects.filter(pk=view.pk).delete()
