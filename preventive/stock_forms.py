"""What is sent about lots."""

from collections.abc import Sequence

from django import forms
from django.db.models import QuerySet

from clinic.platform.forms import OnceForm
from preventive.forms import DAY
from preventive.models import Product, ProductKind
from preventive.products import preventive_facts

HOW_MANY = {"required": "How many?", "invalid": "A whole number.", "min_value": "At least %(limit_value)s."}


class LotForm(OnceForm):
    product = forms.ModelChoiceField(
        queryset=Product.objects.none(),
        empty_label="which one?",
        error_messages={"required": "Which product came in?"},
    )
    band = forms.ChoiceField(
        label="Size on the box", required=False, help_text="Of preventives; a vaccine has none."
    )
    number = forms.CharField(
        label="Lot number, as on the box",
        max_length=40,
        error_messages={"required": "Which number stands on the box?"},
    )
    expires_on = forms.DateField(
        label="Ends on", widget=DAY, error_messages={"required": "Which expiry stands on the box?"}
    )
    received_on = forms.DateField(
        label="Came in on", widget=DAY, error_messages={"required": "When did it come in?"}
    )
    count = forms.IntegerField(label="How many doses", min_value=1, max_value=10_000, error_messages=HOW_MANY)

    def __init__(self, *args: object, products: QuerySet[Product], **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        field = self.fields["product"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = products
        # read now: no page asks while it renders
        rows = sorted(products, key=lambda each: each.kind != ProductKind.VACCINE)
        listed = [(each.pk, field.label_from_instance(each)) for each in rows]
        field.choices = [("", field.empty_label), *listed]
        sizes = self.fields["band"]
        assert isinstance(sizes, forms.ChoiceField)
        sizes.choices = [("", "none, or not a preventive"), *_sizes(rows)]


def _sizes(products: Sequence[Product]) -> list[tuple[str, list[tuple[str, str]]]]:
    """Under each preventive's name, the sizes of its label."""
    return [
        (each.name, [(band.name, band.name) for band in preventive_facts(each.facts).bands])
        for each in products
        if each.kind == ProductKind.PREVENTIVE
    ]


class CountForm(OnceForm):
    left = forms.IntegerField(min_value=0, max_value=10_000, error_messages=HOW_MANY)


class ThrowForm(OnceForm):
    count = forms.IntegerField(min_value=1, max_value=10_000, error_messages=HOW_MANY)
    why = forms.CharField(max_length=180, error_messages={"required": "Say why they are thrown away."})


class ReasonForm(OnceForm):
    reason = forms.CharField(max_length=200, error_messages={"required": "By whom, and why?"})


class LettersForm(OnceForm):
    """`words`: what the clinician tells every household; `do`: look at the letters, or send them."""

    words = forms.CharField(
        max_length=2000,
        error_messages={"required": "Say what it means for the animal, and what to do."},
    )


class ToldForm(OnceForm):
    how = forms.CharField(max_length=200, error_messages={"required": "How was the owner told?"})
