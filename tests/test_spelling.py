"""British and American letters: each spells as its clinic's country does, by one list of words."""

import re
import tomllib
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

import pytest

from clinic.letters import texts as texts_of_letters
from clinic.letters.document import sentences
from clinic.letters.spelling import spelled
from clinic.letters.texts import LETTERS, ClinicWords, in_the_words_of
from clinic.models import ClinicDetails
from clinic.patients.actions import measure
from exams.owner_texts import of_files, texts_of
from exams.qualifiers import how
from exams.sentences import finding_words
from exams.state import FindingEntry
from nutrition.factors import load
from nutrition.letter import PRINTED, PRINTED_KEEP
from nutrition.letter_texts import ROOM as NUTRITION
from nutrition.letter_texts import for_owner
from preventive.letter import ROOM as PREVENTIVE
from tests import letters
from tests.exams.house import exam_here
from tests.exams.walkhelp import walk

LIST = Path(texts_of_letters.__file__).with_name("spelling.toml")
PAIRS = tomllib.loads(LIST.read_text(encoding="utf-8"))["pairs"]
BRITISH, AMERICAN = ({pair[side] for pair in PAIRS} for side in (0, 1))


def words_in(text: str) -> set[str]:
    return set(re.findall(r"[a-z]+", re.sub(r"\{\w+\}", "", text).lower()))


def every_text() -> Iterator[tuple[str, str]]:
    for told in (LETTERS("en"), texts_of(walk()), NUTRITION("en"), PREVENTIVE("en")):
        for key, entry in told.entries.items():
            yield from ((f"{told.room}:{key}", form) for form in entry.forms)
    told = texts_of(walk())
    for finding in walk().finding.values():
        yield (
            f"term {finding.code}",
            finding_words(walk(), FindingEntry(finding.code), for_letter=True, texts=told),
        )
    for name in dict.fromkeys((*PRINTED, *PRINTED_KEEP)):
        yield f"caution.{name}", for_owner(load().sentence(f"caution.{name}"))


def test_the_list_gives_two_spellings_of_each() -> None:
    assert all(len(pair) == 2 and len(set(pair)) == 2 for pair in PAIRS)
    assert not BRITISH & AMERICAN


@pytest.mark.parametrize(("variant", "foreign"), [("", AMERICAN), ("us", BRITISH)], ids=["British", "US"])
def test_no_text_is_spelled_as_elsewhere(variant, foreign) -> None:
    with in_the_words_of(ClinicWords(variant=variant)):
        odd = [(key, text) for key, text in every_text() if words_in(text) & foreign]
    assert odd == []


def test_words_of_a_list_are_spelled_and_what_somebody_typed_is_not() -> None:
    named = "pink / purple / grey"

    def term(colour: str) -> str:
        entry = FindingEntry("MTH-10", qualifiers={named: colour})
        return finding_words(walk(), entry, for_letter=True, texts=texts_of(walk()))

    value = next(v for v in how(walk().qualifiers, "MTH-10", named).values if words_in(v) & BRITISH)
    with in_the_words_of(ClinicWords(variant="us")):
        assert term(value).endswith(", gray")
        assert "a grey thread" in term("a grey thread")
    assert term(value).endswith(", grey")
    assert spelled("Veterinarian's licence number", "us") == "Veterinarian's license number"
    assert spelled("Colours", "us") == "Colors"
    assert spelled("Colours", "") == "Colours"


def test_a_variant_changes_the_spelling_alone() -> None:
    """The same words in the same order, but for those of the list."""
    other = dict(PAIRS)
    plain = of_files(walk())
    with in_the_words_of(ClinicWords(variant="us")):
        for told, files in ((LETTERS("en"), LETTERS.of_files("en")), (texts_of(walk()), plain)):
            for key, entry in told.entries.items():
                if key.startswith("term."):
                    continue
                spelled = [
                    re.sub(r"[A-Za-z]+", lambda each: other.get(each[0].lower(), each[0]).lower(), form)
                    for form in files.entries[key].forms
                ]
                assert [form.lower() for form in entry.forms] == [form.lower() for form in spelled], key


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("country", "weight", "temperature", "paper"), [("GB", "kg", "C", "A4"), ("US", "lb", "F", "letter")]
)
def test_a_whole_letter_is_its_country_s(country, weight, temperature, paper) -> None:
    case = letters.weighed(letters.arrived("Ludo"), "18.4", earlier=((90, "17.2"),))
    exam = exam_here(case.actor(), case.visit)
    exam.tap("EYE.lens|left", "set_abnormal", {"findings": [{"code": "EYE-19"}]})
    exam.tap("VIT.mucous-membranes|-", "set_abnormal", {"findings": [{"code": "VIT-07"}]})
    exam.all_normal("GEN")
    measure(
        patient=case.patient, visit=case.visit, kind="temperature", typed=Decimal("38.6"), unit="C",
        looked_twice=True, **case.technician,
    )  # fmt: skip
    ClinicDetails.objects.update(
        country=country, weight_unit=weight, temperature_unit=temperature, paper=paper
    )
    document = case.letter()
    said = " ".join(f"{each.text} {each.term}" for each in sentences(document))
    assert sorted(words_in(said) & (AMERICAN if country == "GB" else BRITISH)) == []
    assert document.paper == paper
    assert ("gray" if country == "US" else "grey") in said
    assert ("40.6 lb (18.4 kg)." if country == "US" else "18.4 kg (40.6 lb).") in said
    assert ("2.6 lb more" if country == "US" else "1.2 kg more") in said
    assert ("101.5 °F (38.6 °C)." if country == "US" else "38.6 °C (101.5 °F).") in said
