"""The forms of the medicine list; they read and normalise, and ask the kinds of ingredients nobody knows."""

from collections.abc import Mapping
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from django import forms
from django.http import QueryDict

from clinic.care.actions.listed import Facts, SaidKinds
from clinic.care.kinds import plain, published
from clinic.care.listed_models import ListedMedicine
from clinic.care.routes import Route
from clinic.platform.forms import OnceForm

NONE, UNKNOWN = "none", "unknown"
SPECIES = [("dog", "dogs"), ("cat", "cats")]


@dataclass(frozen=True)
class OwnKinds:
    """What the clinic said of an ingredient, and which version of it this is."""

    kinds: frozenset[str]
    version: int


class ListedForm(OnceForm):
    """A medicine as its label states it. `own`: what the clinic said of ingredients, by plain name."""

    version = forms.IntegerField(required=False, widget=forms.HiddenInput)
    name = forms.CharField(label="Name on its label", max_length=160)
    ingredients = forms.CharField(
        label="Active ingredients",
        max_length=800,
        help_text="With commas between, by their common names.",
    )
    strength = forms.CharField(
        label="Strength", max_length=80, help_text="With its unit: “10 mg in 1 ml”, “50 mg in a chew”."
    )
    unit = forms.CharField(label="A dose is counted in", max_length=30, help_text="drops, ml, tablets")
    route = forms.ChoiceField(
        label="Route", choices=[("", "choose"), *((each.value, each.value) for each in Route)]
    )
    species = forms.MultipleChoiceField(
        label="For, as its label says",
        required=False,
        choices=SPECIES,
        widget=forms.CheckboxSelectMultiple,
        help_text="Nothing chosen: not said, and nobody is asked about it.",
    )

    def __init__(self, data: QueryDict | None = None, *, own: Mapping[str, OwnKinds], **kwargs: Any) -> None:
        # a copy: what the form shows again may follow what somebody else changed
        self.sent = data.copy() if data is not None else QueryDict(mutable=True)
        super().__init__(self.sent if data is not None else None, **kwargs)
        told = self.sent.get("ingredients", "") if self.is_bound else self.initial.get("ingredients", "")
        self.asked = tuple(
            Asked(each, own.get(plain(each))) for each in split(told) if not published().knows(each)
        )
        for asked in self.asked:
            self._ask(asked)

    def _ask(self, asked: "Asked") -> None:
        """Its kinds, as the clinic said them; of an ingredient typed anew a choice must be made."""
        before = (sorted(asked.own.kinds) or [NONE]) if asked.own else [UNKNOWN]
        # somebody else said it while it was being left open: “we do not know” is no error then
        may_leave = asked.own is None or UNKNOWN in self.sent.getlist(asked.field)
        self.fields[asked.field] = asked.choice(initial=before, may_leave=may_leave)
        self.fields[asked.seen] = forms.IntegerField(
            widget=forms.HiddenInput, required=False, initial=asked.own.version if asked.own else 0
        )
        if self.is_bound and asked.seen not in self.sent and asked.own:
            self.sent.setlist(asked.field, before)
        if self.is_bound:
            self.sent.setdefault(asked.seen, str(asked.own.version if asked.own else 0))

    def kind_fields(self) -> list[forms.BoundField]:
        return [self[each.field] for each in self.asked]

    def seen_fields(self) -> list[forms.BoundField]:
        return [self[each.seen] for each in self.asked]

    def clean_ingredients(self) -> tuple[str, ...]:
        told = tuple(each for each in split(self.cleaned_data["ingredients"]) if each)
        for each in told:
            if len(each) > 80:
                raise forms.ValidationError("An ingredient has at most 80 letters. Put commas between two.")
        if not told:
            raise forms.ValidationError("Write its active ingredients, with commas between.")
        return told

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for each in self.asked:
            chosen = cleaned.get(each.field, ())
            if len(chosen) > 1 and {NONE, UNKNOWN} & set(chosen):
                self.add_error(each.field, "“None of these” and “we do not know” stand alone.")
        return cleaned

    def facts(self) -> Facts:
        """From a valid form."""
        told = self.cleaned_data
        return Facts(
            name=told["name"],
            ingredients=told["ingredients"],
            strength=told["strength"],
            route=told["route"],
            unit=told["unit"],
            species=tuple(told["species"]),
        )

    def kinds(self) -> dict[str, SaidKinds]:
        """What was said of ingredients; of those that nobody knows nothing is kept."""
        return {
            each.ingredient: SaidKinds(
                frozenset(self.cleaned_data[each.field]) - {NONE}, self.cleaned_data[each.seen] or 0
            )
            for each in self.asked
            if UNKNOWN not in self.cleaned_data[each.field]
        }

    def go_on_from(self, version: int, typed_over: Mapping[str, Any]) -> None:
        """Show the form again over a newer version of the row; `typed_over`: fields that follow it."""
        self.sent["version"] = str(version)
        for name, value in typed_over.items():
            if isinstance(value, list):
                self.sent.setlist(name, value)
            else:
                self.sent[name] = value

    def kinds_now(self, ingredient: str, version: int) -> str:
        """The field of an ingredient whose kinds were said meanwhile; sent again, it counts."""
        asked = next(each for each in self.asked if plain(each.ingredient) == ingredient)
        self.sent[asked.seen] = str(version)
        return asked.field


@dataclass(frozen=True)
class Asked:
    """An ingredient that the file does not know."""

    ingredient: str
    own: OwnKinds | None

    @property
    def _key(self) -> str:
        return sha256(plain(self.ingredient).encode()).hexdigest()[:12]

    @property
    def field(self) -> str:
        return f"kinds-{self._key}"

    @property
    def seen(self) -> str:
        return f"seen-{self._key}"

    def choice(self, *, initial: list[str], may_leave: bool) -> forms.MultipleChoiceField:
        choices = [(each.name, each.title) for each in published().kinds]
        choices.append((NONE, "none of these"))
        if may_leave:
            choices.append((UNKNOWN, "we do not know: the guards cannot ask about it"))
        return forms.MultipleChoiceField(
            label=f"Kinds of {self.ingredient}",
            choices=choices,
            initial=initial,
            widget=forms.CheckboxSelectMultiple,
            help_text="Questions about allergies, doubles and conditions go by its kinds. "
            "Counts for every medicine that holds it.",
            error_messages={"required": f"Nobody said yet which kinds {self.ingredient} is of. Choose."},
        )


class OffForm(OnceForm):
    version = forms.IntegerField(widget=forms.HiddenInput)
    reason = forms.CharField(
        label="Why it is taken off the list",
        max_length=200,
        help_text="No longer made, no longer kept here, replaced by another.",
    )


class BackForm(OnceForm):
    version = forms.IntegerField(widget=forms.HiddenInput)


def split(told: str) -> list[str]:
    """Each ingredient once, in the order typed."""
    tidy = (" ".join(each.split()) for each in told.split(","))
    return list({plain(each): each for each in tidy if each}.values())


def typed_of(facts: Facts | ListedMedicine) -> dict[str, Any]:
    """As the form shows it."""
    return {
        "name": facts.name,
        "ingredients": ", ".join(facts.ingredients),
        "strength": facts.strength,
        "unit": facts.unit,
        "route": facts.route,
        "species": list(facts.species),
    }
