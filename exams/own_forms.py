"""Forms of the clinic's own walk: they parse; what may be changed is asked of the core."""

from __future__ import annotations

from typing import Any

from django import forms

from clinic.platform.forms import OnceForm
from exams.own_pages import SIDE_CHOICES, URGENCY_CHOICES
from exams.own_walk import CALLED_FOR, EVERY
from exams.walk import FindingCode

SPECIES_CHOICES = (("dog", "dogs"), ("cat", "cats"))


def _why() -> forms.CharField:
    return forms.CharField(
        label="Why",
        max_length=500,
        help_text="The clinician who approves reads it, and so does whoever looks back in two years.",
        widget=forms.Textarea({"rows": 2}),
        error_messages={"required": "Say why."},
    )


class WhyForm(OnceForm):
    why = _why()


class AskedForm(WhyForm):
    asked = forms.ChoiceField(
        label="When is it asked?",
        choices=((EVERY, "part of every exam"), (CALLED_FOR, "on indication only")),
        widget=forms.RadioSelect,
    )
    field_order = ["asked", "why"]


class FindingForm(WhyForm):
    """A finding of the clinic's own. `lines`: the station's, to choose from."""

    name = forms.CharField(
        label="Name", max_length=80, help_text="As clinicians say it, like “Grass awn in sight”."
    )
    structures = forms.MultipleChoiceField(
        label="Offered at",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose at least one line."},
    )
    species = forms.MultipleChoiceField(
        label="For",
        choices=SPECIES_CHOICES,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose dogs, cats or both."},
    )
    side = forms.ChoiceField(
        label="Side",
        choices=SIDE_CHOICES,
        widget=forms.RadioSelect,
        help_text="Where the line has its own left and right, the line gives the side.",
    )
    severity = forms.BooleanField(label="Ask how much: mild, moderate or severe", required=False)
    urgency = forms.ChoiceField(label="Urgency", choices=URGENCY_CHOICES, widget=forms.RadioSelect)
    urgency_reason = forms.CharField(label="Why this class", max_length=200)
    owner_line = forms.CharField(
        label="In the owner’s words",
        widget=forms.Textarea({"rows": 3}),
        help_text="One or two calm sentences, at most 32 words. “Your pet” becomes the animal’s name.",
    )
    spoken = forms.CharField(
        label="Also said as",
        required=False,
        widget=forms.Textarea({"rows": 2}),
        help_text="Other words for it, one on each line.",
    )
    field_order = [
        *("name", "structures", "species", "side", "severity", "urgency", "urgency_reason"),
        *("owner_line", "spoken", "why"),
    ]

    def __init__(self, *args: Any, lines: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["structures"].choices = lines  # type: ignore[attr-defined]

    def change(self, code: str) -> dict[str, Any]:
        """As the core takes it; `code` empty for a new one."""
        data = self.cleaned_data
        plain = {n: data[n] for n in ("name", "structures", "species", "side", "severity", "urgency")}
        more = {n: data[n] for n in ("urgency_reason", "owner_line")}
        spoken = [line.strip() for line in data["spoken"].splitlines() if line.strip()]
        return {"kind": "finding", "code": code, **plain, **more, "spoken": spoken}


def finding_initial(f: FindingCode) -> dict[str, Any]:
    return {
        "name": f.name,
        "structures": list(f.structures),
        "species": list(f.species),
        "side": f.side_text,
        "severity": bool(f.severity_words),
        "urgency": f.urgency,
        "urgency_reason": f.urgency_reason,
        "owner_line": f.owner_line,
        "spoken": "\n".join(f.spoken),
    }
