"""Tests and what they showed, as plain values for the plan page and the patient's page of results."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from uuid import uuid4

from django.urls import reverse

from clinic.care.days import day_of
from clinic.care.in_house import outcomes_of
from clinic.care.models import ResultFile, ResultInLetter, Test, TestResult

USUAL = ("negative", "inside")
SAID = {"inside": "in range"}  # a meaning as it is said beside its value; the others are said as they are


@dataclass(frozen=True)
class Mark:
    """A shape, its tone, and the word beside it. Empty words: no mark."""

    shape: str = ""
    tone: str = ""
    words: str = ""


@dataclass(frozen=True)
class ChoiceRow:
    code: str
    value: str


@dataclass(frozen=True)
class ResultRow:
    """`struck`: by whom, when and why, where it was struck out."""

    id: int
    words: str
    interval: str
    small: str
    for_owner: str
    read: bool
    mark: Mark
    struck: str = ""


@dataclass(frozen=True)
class FileRow:
    id: int
    name: str
    small: str
    url: str


@dataclass(frozen=True)
class TestRow:
    """`once`: the token of its one-tap results. `told`: how the owner came to know. `sentence`: the owner's
    sentence that came with a result and that nobody has read yet."""

    id: int
    visit_id: int
    title: str
    small: str
    results: tuple[ResultRow, ...]
    outcomes: tuple[ChoiceRow, ...]
    files: tuple[FileRow, ...]
    told: tuple[str, ...]
    mine: bool
    once: str
    unread: bool
    untold: bool
    sentence: str

    @property
    def pending(self) -> bool:
        return not any(not each.struck for each in self.results)


class TestRows:
    """The tests of a patient with all that hangs on them: five queries, whatever their number."""

    __test__ = False

    def __init__(self, patient_id: int) -> None:
        self.patient_id = patient_id
        tests = Test.objects.filter(patient=patient_id).select_related("plan_line", "ordered_by", "record")
        self.tests = list(tests.prefetch_related("contacts__by").order_by("ordered_at", "pk"))
        results = TestResult.objects.filter(test__patient=patient_id)
        self.results = _by_test(results.select_related("entered_by", "read_by", "struck_by").order_by("pk"))
        self.files = _by_test(ResultFile.objects.filter(test__patient=patient_id, struck_at=None))
        self.told: dict[int, list[str]] = defaultdict(list)
        for told in ResultInLetter.objects.filter(result__test__patient=patient_id).select_related(
            "letter", "result"
        ):
            self._say(told.result.test_id, f"told by the result letter of {day_of(told.letter.at)}")
        for test in self.tests:
            for contact in test.contacts.all():
                if contact.owner_told:
                    self._say(
                        test.pk,
                        f"told: {contact.get_kind_display()} with {contact.with_whom}, "
                        f"{day_of(contact.happened_at)}, {contact.by.full_name}",
                    )

    def _say(self, test_id: int, words: str) -> None:
        if words not in self.told[test_id]:
            self.told[test_id].append(words)

    def row(self, test: Test, *, mine: bool = False) -> TestRow:
        """`mine`: of the record in hand, so that it can be taken back while it has no result."""
        results = self.results[test.pk]
        standing = [each for each in results if each.struck_at is None]
        told = tuple(self.told[test.pk])
        signed = test.record.signed_at
        in_letter = signed is not None and any(each.read_at and each.read_at <= signed for each in standing)
        return TestRow(
            id=test.pk,
            visit_id=test.record.visit_id,
            title=test.title,
            small=_small(test),
            results=tuple(result_row(each) for each in results),
            outcomes=() if standing else _outcomes(test),
            files=tuple(_file(each, self.patient_id) for each in self.files[test.pk]),
            told=(*told, *(["told in the visit’s letter"] if in_letter else [])),
            mine=mine and not results,
            once=str(uuid4()),
            unread=any(each.read_at is None for each in standing),
            untold=bool(standing) and not told and not in_letter and signed is not None,
            sentence=next((each.for_owner for each in standing if each.for_owner and not each.read_at), ""),
        )


def _outcomes(test: Test) -> tuple[ChoiceRow, ...]:
    return tuple(ChoiceRow(one.code, one.value) for one in outcomes_of(test.kind))


def result_row(each: TestResult) -> ResultRow:
    """One value in words, with who entered and who read it."""
    usual = each.meaning in USUAL
    read = f"read by {each.read_by.full_name}" if each.read_by else "not read by a clinician yet"
    struck = ""
    if each.struck_at and each.struck_by:
        struck = f"struck out {day_of(each.struck_at)}, {each.struck_by.full_name}: {each.struck_reason}"
    return ResultRow(
        id=each.pk,
        words=" ".join(part for part in (each.analyte, each.value, each.unit) if part),
        interval=each.interval,
        small=f"{each.entered_by.full_name}, {day_of(each.resulted_at)}, {read}",
        for_owner=each.for_owner,
        read=each.read_at is not None,
        mark=Mark("normal", "normal", SAID.get(each.meaning, each.meaning))
        if usual
        else Mark("abnormal", "look", each.meaning),
        struck=struck,
    )


def _small(test: Test) -> str:
    what = "taken here" if test.in_house else "sent" if test.sent_at else "ordered"
    to = f" to {test.laboratory}" if test.laboratory else ""
    at = test.sent_at or test.taken_at or test.ordered_at
    return f"{what}{to} {day_of(at)}, {test.ordered_by.full_name}"


def _file(each: ResultFile, patient_id: int) -> FileRow:
    url = reverse("result-file", args=[patient_id, each.pk])
    return FileRow(each.pk, each.name, f"{max(1, round(each.size / 1000))} kB, {day_of(each.at)}", url)


def _by_test(rows: Iterable[object]) -> dict[int, list]:  # type: ignore[type-arg]
    dealt: dict[int, list] = defaultdict(list)  # type: ignore[type-arg]
    for row in rows:
        dealt[row.test_id].append(row)  # type: ignore[attr-defined]
    return dealt
