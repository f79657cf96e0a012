"""What is sent about lots."""

from django import forms
from django.db.models import QuerySet

from clinic.platform.forms import OnceForm
from preventive.forms import DAY
from preventive.models import Product

HOW_MANY = {"required": "How many?", "invalid": "A whole number.", "min_value": "At least %(limit_value)s."}


class LotForm(OnceForm):
    product = forms.ModelChoiceField(
        queryset=Product.objects.none(),
        empty_label="which one?",
        error_messages={"required": "Which vaccine came in?"},
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
        listed = [(each.pk, field.label_from_instance(each)) for each in products]
        field.choices = [("", field.empty_label), *listed]  # read now: no page asks while it renders


class CountForm(OnceForm):
    left = forms.IntegerField(min_value=0, max_value=10_000, error_messages=HOW_MANY)


class ThrowForm(OnceForm):
    count = forms.IntegerField(min_value=1, max_value=10_000, error_messages=HOW_MANY)
    why = forms.CharField(max_length=180, error_messages={"required": "Say why they are thrown away."})


class ReasonForm(OnceForm):
    reason = forms.CharField(max_length=200, error_messages={"required": "By whom, and why?"})


class ToldForm(OnceForm):
    how = forms.CharField(max_length=200, error_messages={"required": "How was the owner told?"})
