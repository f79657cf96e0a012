"""Doses given elsewhere, copied from one paper in one form: a row a dose, with the paper beside them."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from django import forms
from django.core import signing
from django.http import QueryDict

from clinic.platform.forms import OnceForm
from clinic.platform.papers import NotAPaper, paper
from preventive.actions.outside import OutsideDose
from preventive.models import Source
from preventive.rules import Rules
from preventive.typed_days import read_day

ROWS = 6
MONTHS = (12, 24, 36, 48)
SALT = "preventive.proof"


class OutsideForm(OnceForm):
    """What all rows share. `kept`: a paper that was sent before and is kept already, signed."""

    source = forms.ChoiceField(
        label="Known from",
        choices=[(Source.OUTSIDE, "a record or certificate"), (Source.OWNER, "the owner’s word")],
        initial=Source.OUTSIDE,
    )
    proof_words = forms.CharField(
        label="Which proof was seen",
        max_length=200,
        required=False,
        help_text="A certificate and its number, a booklet, a letter.",
    )
    proof_file = forms.FileField(
        label="The paper itself",
        required=False,
        help_text="A photograph or a PDF of it.",
        widget=forms.FileInput(attrs={"accept": "image/*,application/pdf"}),
    )
    kept = forms.CharField(required=False, widget=forms.HiddenInput)

    stored = ""

    def clean(self) -> dict[str, object]:
        """Keep the paper at once, so that it need not be chosen again when a row is wrong."""
        cleaned = super().clean() or self.cleaned_data
        sent = cleaned.get("proof_file")
        if sent is not None:
            try:
                self.stored = paper(sent.read()).keep()
            except NotAPaper as error:
                self.add_error("proof_file", f"{error} A proof is a PDF or a picture.")
        elif cleaned.get("kept"):
            try:
                self.stored = signing.loads(str(cleaned["kept"]), salt=SALT)
            except signing.BadSignature:
                self.add_error("proof_file", "Choose the paper again.")
        return cleaned

    @property
    def kept_now(self) -> str:
        """For the hidden field of the page that comes back."""
        return signing.dumps(self.stored, salt=SALT) if self.stored else ""


@dataclass(frozen=True)
class Row:
    """One line as it was typed; `wrong` by field: what, on, months."""

    number: int
    what: str = ""
    on: str = ""
    product: str = ""
    lot: str = ""
    months: str = ""
    wrong: dict[str, str] = field(default_factory=dict)

    @property
    def is_empty(self) -> bool:
        return not any((self.what, self.on, self.product, self.lot, self.months))


@dataclass(frozen=True)
class Vaccine:
    """A choice of the first column: `code` stands for these antigens."""

    code: str
    label: str
    antigens: tuple[str, ...]


def vaccines_for(species: str, rules: Rules) -> tuple[Vaccine, ...]:
    """What a vaccine may have been against: as vaccines are named, then antigens one by one."""
    found = [Vaccine("rabies", rules.rabies.label, (rules.rabies.antigen,))]
    singles = []
    for rule in rules.vaccines.values():
        if rule.species == species:
            found.append(Vaccine(rule.code, rule.label, rule.antigens))
            if len(rule.antigens) > 1:
                singles += [Vaccine(code, f"{rules.antigens[code]} alone", (code,)) for code in rule.antigens]
    return (*found, *singles)


def blank_rows() -> tuple[Row, ...]:
    return tuple(Row(number) for number in range(ROWS))


def rows_of(sent: QueryDict) -> tuple[Row, ...]:
    """As typed, nothing checked yet."""

    def text(name: str, number: int) -> str:
        return sent.get(f"{name}-{number}", "").strip()

    return tuple(
        Row(
            number=n,
            what=text("what", n),
            on=text("on", n),
            product=text("product", n)[:120],
            lot=text("lot", n)[:40],
            months=text("months", n),
        )
        for n in range(ROWS)
    )


def read_rows(
    rows: Sequence[Row], vaccines: Sequence[Vaccine]
) -> tuple[tuple[Row, ...], tuple[tuple[int, OutsideDose], ...]]:
    """The rows with what is wrong in each, and the doses of those that can be read, by their row's number."""
    by_code = {each.code: each for each in vaccines}
    checked, doses = [], []
    for row in rows:
        wrong = dict(_wrong(row, by_code))
        checked.append(Row(row.number, row.what, row.on, row.product, row.lot, row.months, wrong))
        if not wrong and not row.is_empty:
            day = read_day(row.on)
            doses.append(
                (
                    row.number,
                    OutsideDose(
                        antigens=by_code[row.what].antigens,
                        given_on=day.value,
                        precision=day.precision.value,
                        product_name=row.product,
                        lot=row.lot,
                        licensed_months=int(row.months) if row.months else None,
                    ),
                )
            )
    return tuple(checked), tuple(doses)


def _wrong(row: Row, by_code: dict[str, Vaccine]) -> Iterator[tuple[str, str]]:
    if row.is_empty:
        return
    if row.what not in by_code:
        yield "what", "Against what?"
    try:
        read_day(row.on)
    except ValueError:
        yield "on", "A day, a month or a year, as 2024-05-12, 2024-05, 2024 or 12 May 2024."
    if row.months and row.months not in {str(each) for each in MONTHS}:
        yield "months", "Choose the label’s months."
