"""What an exam says to the owner, and what it shows of the visit before."""

from datetime import timedelta
from decimal import Decimal

import pytest

from clinic.care.actions import open_problem
from clinic.letters.composition import compose
from clinic.models import HeadsUp, Record
from clinic.patients.actions import measure, strike_measurement
from exams.letter import ExamInLetter
from exams.models import Exam
from exams.pages import last_json
from exams.queries import last_exams, standing
from tests import people
from tests.exams.house import Tablet, exam_here

pytestmark = pytest.mark.django_db
OVERWEIGHT = {"findings": [{"code": "BCM-05"}]}
WAX = {"findings": [{"code": "EAR-03", "severity": "mild"}]}


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def tablet(house) -> Tablet:
    return exam_here(house.actor("clinician"))


def record_of(tablet: Tablet) -> Record:
    return Record.objects.select_related("visit__patient").get(pk=tablet.exam.record_id)


def walked(tablet: Tablet) -> list[str]:
    document = compose(record_of(tablet), today=people.TODAY)
    walk = next(section for section in document.sections if section.name == "walk")
    return [
        " ".join(each.text + each.term for each in (line.label, *line.sentences))
        for line in walk.blocks[0].lines
    ]


def headline(tablet: Tablet) -> str:
    said = ExamInLetter().part(record_of(tablet), language="en", today=people.TODAY).headline
    return said.text if said else ""


def signed(tablet: Tablet, *, days_ago: int, kind: str = "full") -> None:
    at = people.NOW - timedelta(days=days_ago)
    Exam.objects.filter(pk=tablet.exam.pk).update(kind=kind)
    Record.objects.filter(pk=tablet.exam.record_id).update(
        opened_at=at, signed_at=at, signed_by=tablet.actor.staff, signed_name="Dr Maren Oduya"
    )


def test_a_finding_tapped_at_two_lines_of_a_station_is_said_once(tablet) -> None:
    taps = [tablet.tap(line, "set_abnormal", OVERWEIGHT) for line in ("BCM.tuck|-", "BCM.waist|-")]
    assert [each["result"] for each in taps] == ["accepted", "accepted"]
    assert sum("overweight" in line for line in walked(tablet)) == 1


def test_a_name_keeps_its_capital_and_a_term_its_brackets(tablet) -> None:
    tablet.tap("BCM.tuck|-", "set_abnormal", OVERWEIGHT)
    said = next(line for line in walked(tablet) if "overweight" in line)
    assert ": Pomfret is overweight." in said
    assert said.count("(") == said.count(")")


def test_what_can_wait_is_not_called_a_treatment(tablet) -> None:
    tablet.tap("EAR.canal|left", "set_abnormal", WAX)
    assert headline(tablet) in {
        "We found nothing that needs treatment today. One thing to watch.",
        "We found nothing that needs treatment today. One thing to look at again.",
        "Pomfret needs a test or treatment.",
    }


TAKEN = {"weight": ("12.4", "kg"), "temperature": ("38.6", "C"), "bcs": ("5", "")} | {
    kind: (number, "")
    for kind, number in (("heart-rate", "96"), ("pulse-rate", "96"), ("respiratory-rate", "22"))
}
CHOSEN = {"capillary-refill": "1-2", "pain": "none", "mcs": "normal"}


def everything(tablet: Tablet) -> None:
    """All that can be looked at is normal, each value is taken, and the rest has a reason."""
    visit = Record.objects.get(pk=tablet.exam.record_id).visit
    own = {"patient": visit.patient, "visit": visit, "actor": tablet.actor, "now": people.NOW}
    for kind, (number, unit) in TAKEN.items():
        measure(kind=kind, typed=Decimal(number), unit=unit, **own)
    for kind, word in CHOSEN.items():
        measure(kind=kind, category=word, **own)
    for station in standing(tablet.exam).walk.stations:
        tablet.all_normal(station.code)
        tablet.tap(station.code, "station_rest_not_examined", {"reason": "not-needed"})


WELL = "Pomfret is in good health today. We looked from nose to tail and found nothing that worries us."


def test_nothing_is_called_normal_before_all_of_it_was_looked_at(tablet) -> None:
    tablet.tap("GEN.behaviour|-", "set_normal")
    assert headline(tablet) == ""
    everything(tablet)
    assert headline(tablet) == WELL


def test_good_health_is_said_only_where_nothing_speaks_against_it(tablet) -> None:
    everything(tablet)
    visit = Record.objects.get(pk=tablet.exam.record_id).visit
    vet = {"actor": tablet.actor, "now": people.NOW}
    seen = [headline(tablet)]

    heavy = measure(patient=visit.patient, visit=visit, kind="bcs", typed=Decimal(6), unit="", **vet)
    seen.append(headline(tablet))
    strike_measurement(measurement=heavy, reason="another animal", **vet)

    heart = open_problem(patient=visit.patient, visit=visit, title="Heart", **vet)
    seen.append(headline(tablet))
    heart.delete()

    raised = HeadsUp.objects.create(
        record_id=tablet.exam.record_id, words="coughs", by=tablet.actor.staff, at=people.NOW
    )
    seen.append(headline(tablet))
    raised.delete()

    seen.append(headline(tablet))
    tablet.tap("EYE.conjunctiva|left", "set_not_examined", {"reason": "would-not-allow"})
    seen.append(headline(tablet))
    assert [each == WELL for each in seen] == [True, False, False, False, True, False]


def test_a_value_stands_once_and_a_term_says_nothing_to_whoever_enters_it(tablet) -> None:
    visit = Record.objects.get(pk=tablet.exam.record_id).visit
    own = {"patient": visit.patient, "visit": visit, "actor": tablet.actor, "now": people.NOW}
    measure(kind="temperature", typed=Decimal("38.6"), unit="C", **own)
    tablet.all_normal("VIT")
    tablet.tap("GEN.consciousness|-", "set_abnormal", {"findings": [{"code": "GEN-01"}]})
    tablet.all_normal("GEN")
    tablet.tap("SKN.lumps|-", "set_abnormal", {"findings": [{"code": "SKN-27"}]})
    said = walked(tablet)
    assert sum("38.6 °C" in line for line in said) == 1
    assert any(line.endswith("lump or mass") for line in said)


def test_a_focused_visit_does_not_hide_what_the_last_walk_found(house, tablet) -> None:
    patient = tablet.exam.record.visit.patient
    tablet.tap("EAR.canal|left", "set_abnormal", WAX)
    signed(tablet, days_ago=60)
    people.Visit.objects.update(place="gone-home")
    second = exam_here(tablet.actor, people.visit_here(patient))
    second.tap("NOS.planum|-", "set_not_examined", {"reason": "not-needed"})
    signed(second, days_ago=30, kind="focused")
    people.Visit.objects.update(place="gone-home")
    now = people.visit_here(patient).record
    lines = last_json(last_exams(Record.objects.select_related("visit__patient").get(pk=now.pk)))
    assert lines["EAR.canal|left"].startswith("10 Jan 2026: ")
    assert "NOS.planum|-" not in lines


def test_what_was_not_part_of_the_visit_is_said_by_station(tablet) -> None:
    tablet.tap("EAR.pinna|left", "set_normal")
    tablet.tap("exam", "station_rest_not_examined", {"reason": "not-part", "all": True})
    said = [line for line in walked(tablet) if "Not examined:" in line]
    assert len(said) == 1
    assert "the rest of the ears" in said[0].lower()
    assert "more:" not in said[0]
