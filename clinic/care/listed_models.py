"""The clinic's own list of medicines, and what kinds their ingredients are. No dose stands in it."""

import pghistory
from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from clinic.care.routes import Route
from clinic.people.models import Staff

SPECIES = ["dog", "cat"]
ROUTES = [each.value for each in Route]


@pghistory.track()
class ListedMedicine(models.Model):
    """One medicine as it stands on its label. What is directed copies it, so no record changes with it.

    `version` goes up with every change: whoever saw an older one is told what changed.
    """

    name = models.CharField(max_length=160)
    ingredients = ArrayField(models.CharField(max_length=80), help_text="active ingredients")
    strength = models.CharField(max_length=80)
    species = ArrayField(
        models.CharField(max_length=3), default=list, blank=True, help_text="on its label; empty: not said"
    )
    route = models.CharField(max_length=60)
    unit = models.CharField(max_length=30, help_text="what a dose is counted in")
    version = models.PositiveIntegerField(default=1)
    added_at = models.DateTimeField()
    added_by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    changed_at = models.DateTimeField()
    changed_by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    off_at = models.DateTimeField(null=True, blank=True, help_text="taken off the list")
    off_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = [Lower("name"), "pk"]
        constraints = [
            models.UniqueConstraint(Lower("name"), name="a_medicine_is_listed_once"),
            models.CheckConstraint(
                condition=~Q(name="") & ~Q(strength="") & ~Q(unit=""),
                name="a_listed_medicine_says_what_it_is",
            ),
            models.CheckConstraint(
                condition=Q(ingredients__len__gte=1) & ~Q(ingredients__contains=[""]),
                name="a_listed_medicine_has_ingredients",
            ),
            models.CheckConstraint(
                condition=Q(species__contained_by=SPECIES), name="a_listed_medicine_is_for_dogs_or_cats"
            ),
            models.CheckConstraint(condition=Q(route__in=ROUTES), name="a_listed_medicine_has_a_route"),
            models.CheckConstraint(
                condition=Q(off_at=None, off_reason="") | (Q(off_at__isnull=False) & ~Q(off_reason="")),
                name="a_medicine_is_taken_off_with_a_reason",
            ),
        ]


@pghistory.track()
class IngredientKinds(models.Model):
    """What the clinic says of an ingredient that `kinds.toml` does not know; none: of none of the kinds.

    The closed list of kinds stands in that file, so the action holds them to it.
    """

    ingredient = models.CharField(max_length=80)
    kinds = ArrayField(models.CharField(max_length=40), default=list, blank=True)
    version = models.PositiveIntegerField(default=1)
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(Lower("ingredient"), name="an_ingredient_has_its_kinds_once"),
            models.CheckConstraint(condition=~Q(ingredient=""), name="an_ingredient_has_a_name"),
            models.CheckConstraint(condition=~Q(kinds__contains=[""]), name="a_kind_has_a_name"),
        ]
