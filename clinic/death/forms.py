"""The forms of a death: they read and normalise; what fits together is the action's to say."""

from datetime import date, datetime, time
from typing import Any

from django import forms
from django.utils import timezone

from clinic.death.facts import HERE, Consent, Facts
from clinic.death.models import BodyDecision, Death
from clinic.letters.texts import LETTERS
from clinic.people.models import Owner, Staff
from clinic.platform.forms import OnceForm
from clinic.promises.fold import Promise

CLOSED = "closed"
# needed by the way it died, which the action knows: no "optional" stands beside them
ASKED = (
    "certified_by",
    "told_by",
    "consent_by",
    "consent_on",
    "consent_time",
    "consent_taken_by",
    "consent_witness",
    "consent_second",
    "no_weight_reason",
)
TOLD = [(each.value, str(each.label)) for each in Death.How if each not in HERE]


def _line(label: str, most: int = 120, help_text: str = "") -> forms.CharField:
    return forms.CharField(label=label, required=False, max_length=most, help_text=help_text)


def _time(label: str) -> forms.TimeField:
    return forms.TimeField(label=label, required=False, widget=forms.TimeInput(attrs={"type": "time"}))


def _person(label: str) -> forms.TypedChoiceField:
    return forms.TypedChoiceField(label=label, required=False, coerce=int, empty_value=None)


def _choice(label: str, choices: Any, *, required: bool = False) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, required=required, choices=choices, widget=forms.RadioSelect)


def named(promise: Promise) -> str:
    """The field that asks what becomes of it."""
    return f"promise-{promise.source}-{promise.key}"


class DeathForm(OnceForm):
    """`people` work here, `clinicians` may certify. Every open promise gets a field of its own."""

    how = _choice("How", Death.How.choices, required=True)
    on = forms.DateField(label="Day", widget=forms.DateInput(attrs={"type": "date"}))
    at = _time("Time")
    certified_by = _person("Who made sure that it is dead")
    told_by = _line("Who told us")
    consent_by = _line("Who consented, by name")
    consent_as = _choice("As what", Death.ConsentAs.choices)
    consent_how = _choice("In which form", Death.ConsentHow.choices)
    consent_on = forms.DateField(
        label="Day of the consent", required=False, widget=forms.DateInput(attrs={"type": "date"})
    )
    consent_time = _time("Time of the consent")
    consent_taken_by = _person("Who of us took it")
    consent_witness = _line("Witness, by name")
    consent_second = _person("Colleague who listened")
    identity = _choice(
        "How we know which animal it is",
        [each for each in Death.Identity.choices if each[0] != Death.Identity.NOT_SEEN],
    )
    no_weight_reason = _line("Why it was not weighed that day", 200)
    body = _choice("What is to be done", BodyDecision.What.choices, required=True)
    body_by = _line("Whose wish it is")
    body_words = _line("Which service, what comes back", 200)
    owner_knows = forms.TypedChoiceField(
        label="Does the owner know?",
        choices=[("yes", "yes"), ("no", "not yet: it stands among the promises of today")],
        coerce=lambda said: said == "yes",
        widget=forms.RadioSelect,
    )
    words = forms.CharField(
        label="What happened",
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Facts only.",
    )

    def __init__(
        self,
        *args: Any,
        people: list[Staff],
        clinicians: list[Staff],
        promised: list[Promise],
        sees: bool,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        for name in ASKED:
            self.fields[name].asked = True  # type: ignore[attr-defined]
        self.people = {each.pk: each for each in (*people, *clinicians)}
        self.promised = promised
        everybody = [("", "choose"), *((each.pk, each.full_name) for each in people)]
        certify = [("", "choose"), *((each.pk, each.full_name) for each in clinicians)]
        self._offer("certified_by", certify)
        self._offer("consent_taken_by", everybody)
        self._offer("consent_second", everybody)
        if not sees:
            self._offer("how", TOLD)
        for each in promised:
            stays = [
                (
                    each_one.pk,
                    f"{'stays with' if each_one.pk == each.who_id else 'goes to'} {each_one.full_name}",
                )
                for each_one in clinicians
            ]
            self.fields[named(each)] = forms.ChoiceField(
                label=f"{each.what} ({each.who or 'nobody named'}, {each.due_on:%-d %B %Y})",
                choices=[("", "choose"), (CLOSED, "closed by the death"), *stays],
            )

    def _offer(self, name: str, choices: Any) -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ChoiceField)
        field.choices = choices

    def facts(self) -> Facts:
        said = self.cleaned_data
        return Facts(
            how=said["how"],
            on=said["on"],
            at=_moment(said["on"], said["at"]),
            certified_by=self.people.get(said["certified_by"]),
            told_by=said["told_by"],
            consent=self._consent() if said["how"] == Death.How.EUTHANISED else None,
            no_weight_reason=said["no_weight_reason"],
            identity=said["identity"],
            owner_knows=said["owner_knows"],
            body=said["body"],
            body_by=said["body_by"],
            body_words=said["body_words"],
            words=said["words"],
        )

    def _consent(self) -> Consent:
        said = self.cleaned_data
        return Consent(
            given_by=said["consent_by"],
            given_as=said["consent_as"],
            how=said["consent_how"],
            at=_moment(said["consent_on"] or said["on"], said["consent_time"]),
            taken_by=self.people.get(said["consent_taken_by"]),
            witness=said["consent_witness"],
            second=self.people.get(said["consent_second"]),
        )

    def answers(self) -> dict[tuple[str, str], Staff | None]:
        """What becomes of each promise that was shown."""
        told = {each.name: self.cleaned_data[named(each)] for each in self.promised}
        return {name: None if said == CLOSED else self.people[int(said)] for name, said in told.items()}

    @property
    def promise_fields(self) -> list[forms.BoundField]:
        return [self[named(each)] for each in self.promised]


def _moment(on: date, at: time | None) -> datetime | None:
    return timezone.make_aware(datetime.combine(on, at)) if at is not None else None


class BodyForm(OnceForm):
    what = _choice(
        "What was decided",
        [each for each in BodyDecision.What.choices if each[0] != BodyDecision.What.UNDECIDED],
        required=True,
    )
    said_by = _line("Whose wish it is")
    words = _line("Which service, what comes back", 200)


class CondolenceForm(OnceForm):
    """Free text; nothing is proposed but the greeting."""

    owner = forms.TypedChoiceField(label="To", coerce=int)
    greets = forms.CharField(label="Greeting", max_length=200)
    text = forms.CharField(
        label="Your words",
        max_length=20_000,
        widget=forms.Textarea(attrs={"rows": 12}),
        help_text="A blank line begins a new paragraph. Your name stands below.",
        error_messages={"required": "Write the letter first."},
    )
    language = forms.ChoiceField(
        label="You write in", choices=LETTERS.languages, help_text="For whoever has it read aloud."
    )

    def __init__(self, *args: Any, owners: list[Owner], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["language"].required = False
        to = self.fields["owner"]
        assert isinstance(to, forms.ChoiceField)
        to.choices = [(each.pk, each.name) for each in owners]


class BackForm(OnceForm):
    why = forms.CharField(
        label="Why it is taken back",
        max_length=200,
        help_text="“entered on the wrong animal”. The entry stays readable, struck out.",
    )
