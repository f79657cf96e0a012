"""The forms of a plan line and of how it went."""

from typing import Any

from django import forms

from clinic.care.fields import day_field, fill_people
from clinic.care.models import PlanLine
from clinic.care.neutral import NeutralForm
from clinic.people.models import Staff
from clinic.platform.forms import OnceForm


class LineForm(NeutralForm, OnceForm):
    neutral = ("text", "for_owner", "declined_why", "alternative")

    kind = forms.ChoiceField(
        label="What kind", choices=PlanLine.Kind.choices, initial=PlanLine.Kind.RECHECK.value
    )
    text = forms.CharField(label="What is to be done", max_length=300)
    for_owner = forms.CharField(
        label="The same for the owner",
        required=False,
        max_length=400,
        help_text="In plain words. Empty: the letter uses the words above.",
    )
    standing = forms.ChoiceField(
        label="Where it stands",
        choices=PlanLine.Standing.choices,
        initial=PlanLine.Standing.ADVISED.value,
        widget=forms.RadioSelect,
    )
    answerable = forms.TypedChoiceField(
        label="Who answers for it", required=False, coerce=int, empty_value=None
    )
    due_on = day_field("By when")
    consent_by = forms.CharField(label="Who agreed", required=False, max_length=120)
    consent_how = forms.ChoiceField(
        label="How",
        required=False,
        choices=[("", "not said"), *PlanLine.ConsentHow.choices],
        widget=forms.RadioSelect,
    )
    estimate = forms.ChoiceField(
        label="Estimate of the costs",
        required=False,
        choices=[("", "not said"), *PlanLine.Estimate.choices],
        widget=forms.RadioSelect,
    )
    declined_why = forms.CharField(
        label="The owner’s reason",
        required=False,
        max_length=300,
        help_text="In neutral words: “declined X-rays today”, never a judgement of the owner.",
    )
    risks_explained = forms.CharField(label="Risks that were explained", required=False, max_length=300)
    explained_by = forms.TypedChoiceField(
        label="Who explained them", required=False, coerce=int, empty_value=None
    )
    alternative = forms.CharField(
        label="What was agreed instead", required=False, max_length=300, help_text="Stands in the letter."
    )
    come_back = forms.CharField(
        label="When to come back all the same",
        required=False,
        max_length=200,
        help_text="“at once when it stops eating”. Stands in the letter.",
    )
    signed_by_owner = forms.BooleanField(label="The owner signed that they decline", required=False)
    offer_again_on = day_field("Offered again on")
    again_of = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, people: list[Staff], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fill_people(self.fields["answerable"], people)
        fill_people(self.fields["explained_by"], people)


class ProgressForm(NeutralForm, OnceForm):
    neutral = ("note",)

    standing = forms.ChoiceField(
        label="What became of it", choices=[("", "choose"), *PlanLine.Standing.choices]
    )
    note = forms.CharField(
        label="In a few words", required=False, max_length=300, help_text="Who was reached, what was said."
    )
    answerable = forms.TypedChoiceField(label="Handed to", required=False, coerce=int, empty_value=None)
    due_on = day_field("New day")

    def __init__(self, *args: Any, people: list[Staff], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fill_people(self.fields["answerable"], people)
