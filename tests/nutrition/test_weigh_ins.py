"""The page of weigh-ins: the programme that runs, a quick weight by whoever stands at the scale."""

import re
from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from clinic.models import Measurement, Visit
from nutrition.models import Plan
from tests import people
from tests.nutrition.clinic_rows import DRY, LIGHT, advise, house_with_foods, keep, visitor

pytestmark = pytest.mark.django_db
SLIM = "mirrelwick-slim-dry"


@pytest.fixture
def house():
    return house_with_foods()


def days_ago(days):
    return timezone.now() - timedelta(days=days)


def weigh_on(house, patient, kg, days, *, bcs="", visit=None):
    for kind, value, unit in (("weight", kg, "kg"), ("bcs", bcs, "bcs-9")):
        if value:
            patient.measurements.create(
                kind=kind, typed=value, unit=unit, value=value, visit=visit, measured_at=days_ago(days),
                recorded_at=days_ago(days), observed_by=house.technician, entered_by=house.technician,
            )  # fmt: skip


def on_programme(house, *kgs, species="dog", target=None, every=14):
    """A pet whose plan began with the first weight, and weighed every two weeks up to today."""
    first = (len(kgs) - 1) * every
    patient = people.patient("Pomfret" if species == "dog" else "Suki", species=species)
    visit = people.visit_here(patient, clinician=house.clinician)
    weigh_on(house, patient, kgs[0], first, bcs="7", visit=visit)
    target = target or round(float(kgs[0]) * 0.84, 1)
    foods = {LIGHT: 100.0} if species == "dog" else {SLIM: 100.0}
    asked = {"target_below_every_method"}
    advise(house, visit.record, aim="lose", target_weight_kg=target, shares=foods, answered=asked)
    Plan.objects.update(at=days_ago(first))
    for number, kg in enumerate(kgs[1:], start=1):
        weigh_on(house, patient, kg, first - number * every)
    return patient


def page_of(house, patient, who="technician"):
    answer = visitor(house, who).get(f"/patients/{patient.pk}/weigh-ins/")
    return re.sub(r"\s+", " ", answer.content.decode())


def test_without_a_programme_it_says_how_one_begins(house):
    patient = people.patient()
    page = page_of(house, patient)
    assert "No programme runs" in page
    assert "Not weighed here yet." in page


@pytest.mark.parametrize(
    ("kgs", "species", "says"),
    [
        (("40",), "dog", "Too few weigh-ins to tell the pace"),
        (("40", "39.0", "38.1", "37.0", "36.1"), "dog", "The pace is right: keep the amount."),
        (("40", "39.8", "39.6", "39.3", "39.1"), "dog", "Slower than wanted."),
        (("40", "39.9", "40.0", "39.9", "40.0"), "dog", "Standing still."),
        (("40", "40.4", "40.9", "41.3", "41.8"), "dog", "Gaining, though the plan is for losing."),
        (("40", "38", "36.1", "34.4"), "dog", "Too fast: more than 2 % of the starting weight a week."),
        (("40", "38", "36.1", "34.4", "33.5"), "dog", "The target is reached."),
        (("6.0", "5.82", "5.66", "5.49"), "cat", "Faster than the usual 1 % a week for cats."),
        (("6.0", "5.7", "5.41", "5.12"), "cat", "ask today what it ate in the last 24 hours"),
    ],
)
def test_every_course_stands_on_the_page_with_its_sentence(house, kgs, species, says):
    page = page_of(house, on_programme(house, *kgs, species=species))
    assert says in page
    assert "the licensed veterinarian decides" in page


def test_the_pace_its_band_and_the_days_of_the_target(house):
    page = page_of(house, on_programme(house, "40", "39.0", "38.1", "37.0", "36.1"))
    assert re.search(r"1\.2 % of the starting weight a week \(1\.\d to 1\.\d\)", page)
    assert re.search(r"between \d+ \w+ \d{4} and \d+ \w+ \d{4}", page)
    assert 'viewBox="0 0 1005 510"' in page
    assert "The same as a table" in page


def test_a_slow_one_is_offered_a_plan_with_less_by_the_published_steps(house):
    patient = on_programme(house, "40", "39.8", "39.6", "39.3", "39.1")
    page = page_of(house, patient, "clinician")
    kcal = Plan.objects.get().energy_kcal
    assert f"{kcal * 0.8:,.0f} to {kcal * 0.95:,.0f} kcal a day; now {kcal:,.0f}" in page
    url = re.search(r'href="(/visits/\d+/feeding/\?[^"]+)"', page).group(1).replace("&amp;", "&")
    offered = visitor(house).get(url).content.decode()
    assert f'value="{kcal * 0.875:.0f}"' in offered
    assert 'value="own" checked' in offered
    assert f'value="{LIGHT}" selected' in offered
    assert "Write the changed plan" not in page_of(house, patient, "technician")


def test_without_an_open_visit_it_says_where_the_new_plan_is_written(house):
    patient = on_programme(house, "40", "39.8", "39.6", "39.3", "39.1")
    Visit.objects.update(place="gone-home")
    assert "A visit or a call opened on Today" in page_of(house, patient, "clinician")


def test_at_the_target_the_plan_that_keeps_the_weight_is_offered(house):
    page = page_of(house, on_programme(house, "40", "38", "36.1", "34.4", "33.5"), "clinician")
    assert "To keep it" in page
    assert "Write the plan that keeps this weight" in page


def next_record(house, patient):
    Visit.objects.update(place="gone-home")
    return people.visit_here(patient, clinician=house.clinician).record


def just_now(plan):
    Plan.objects.filter(pk=plan.pk).update(at=timezone.now())


def test_a_changed_plan_goes_on_with_the_programme_and_another_aim_ends_it(house):
    patient = on_programme(house, "40", "39.4", "38.9")
    second = next_record(house, patient)
    just_now(advise(house, second, aim="lose", target_weight_kg=34.0, shares={LIGHT: 100.0}))
    page = page_of(house, patient)
    assert "40 kg on" in page
    assert "34 kg; 4.9 kg to go" in page
    just_now(keep(house, next_record(house, patient)))
    assert "Losing weight" in page_of(house, patient)
    asked = frozenset({"unplanned_loss", "overweight_kept"})
    just_now(advise(house, next_record(house, patient), shares={DRY: 100.0}, answered=asked))
    assert "No programme runs" in page_of(house, patient)


def test_one_wrong_weight_is_named_and_changes_no_advice(house):
    page = page_of(house, on_programme(house, "40", "39.0", "38.1", "37.0", "36.1", "52"))
    assert "fits no line through the others. Weigh again" in page
    assert "The pace is right" in page


def test_nobody_weighed_it_for_long(house):
    patient = on_programme(house, "40", "39.4", every=60)
    assert "Not weighed for" not in page_of(house, patient)
    Measurement.objects.filter(value="39.4").update(
        struck_at=timezone.now(), struck_by=house.technician, struck_reason="another dog"
    )
    assert "Not weighed for 60 days" in page_of(house, patient)


def sent(**more):
    return {"typed": "39.1", "unit": "kg", "bcs": "", "once": str(uuid4())} | more


def test_a_technician_keeps_a_quick_weight_and_a_score(house):
    patient = on_programme(house, "40", "39.4")
    url = f"/patients/{patient.pk}/weigh-ins/"
    assert visitor(house, "technician").post(url, sent(typed="86.2", unit="lb", bcs="6")).status_code == 302
    weight = patient.measurements.filter(kind="weight").latest("pk")
    assert (f"{weight.typed:f}", weight.unit, f"{weight.value:.2f}") == ("86.200", "lb", "39.10")
    assert patient.measurements.filter(kind="bcs").latest("pk").value == 6
    assert "39.1" in page_of(house, patient)


def test_a_form_sent_twice_keeps_one_weight(house):
    patient = on_programme(house, "40", "39.4")
    client, url, form = visitor(house, "technician"), f"/patients/{patient.pk}/weigh-ins/", sent()
    client.post(url, form)
    client.post(url, form)
    assert patient.measurements.filter(kind="weight").count() == 3


@pytest.mark.parametrize(
    ("typed", "says"),
    [("heavy", "This is not a number"), ("nan", "This is not a number"), ("-3", "0"), ("", "required")],
)
def test_what_is_no_weight_is_refused_beside_its_field(house, typed, says):
    patient = on_programme(house, "40", "39.4")
    answer = visitor(house, "technician").post(f"/patients/{patient.pk}/weigh-ins/", sent(typed=typed))
    assert answer.status_code == 422
    assert patient.measurements.filter(kind="weight").count() == 2
    assert says in answer.content.decode()
    assert f'value="{typed}"' in answer.content.decode() or not typed


def test_a_slip_of_the_decimal_is_asked_about_and_kept_when_looked_at_twice(house):
    patient = on_programme(house, "40", "39.4")
    client, url = visitor(house, "technician"), f"/patients/{patient.pk}/weigh-ins/"
    answer = client.post(url, sent(typed="3.91"))
    assert answer.status_code == 422
    assert "I looked twice" in answer.content.decode()
    assert client.post(url, sent(typed="3.91", looked_twice="on")).status_code == 302


def test_a_manager_looks_and_does_not_weigh(house):
    patient = on_programme(house, "40", "39.4")
    assert "Keep this weight" not in page_of(house, patient, "manager")
    assert visitor(house, "manager").post(f"/patients/{patient.pk}/weigh-ins/", sent()).status_code == 403


def test_the_number_of_queries_does_not_grow_with_the_weigh_ins(house):
    patient = on_programme(house, "40", "39.4", "38.9")
    client, url = visitor(house), f"/patients/{patient.pk}/weigh-ins/"
    client.get(url)

    def count():
        with CaptureQueriesContext(connection) as sql:
            client.get(url)
        return len(sql)

    few = count()
    for number in range(18):
        weigh_on(house, patient, f"{38.8 - number / 10:.1f}", 13 - number / 2)
    assert count() == few <= 15


def test_the_panel_of_the_patient_leads_to_it(house):
    patient = on_programme(house, "40", "39.4")
    page = visitor(house).get(f"/patients/{patient.pk}/").content.decode()
    assert f'href="/patients/{patient.pk}/weigh-ins/">Weigh-ins and the programme' in page


def test_a_changed_plan_is_judged_by_what_the_weigh_ins_say_that_it_needs(house):
    patient = on_programme(house, "40", "39.8", "39.9", "39.7", "39.8")
    record = next_record(house, patient)
    weigh_on(house, patient, "39.8", 0, bcs="7", visit=record.visit)
    cut = {"aim": "lose", "target_weight": "33.6", "energy": "own", "own_kcal": "860", "reason": "slow"}
    page = visitor(house).get(f"/visits/{record.visit_id}/feeding/", cut | {"food": LIGHT, "share": ""})
    page = page.content.decode()
    assert re.search(r"Seems to need</dt><dd>about 1,0\d\d kcal a day by its weigh-ins", page)
    assert "Above 2 % is refused" not in page


def puppy(house, *kgs, adult=None, species="dog", every=14):
    born = timezone.localdate() - timedelta(days=120)
    patient = people.patient("Bramble", species=species, birth_date=born, expected_adult_kg=adult)
    for number, kg in enumerate(kgs):
        weigh_on(house, patient, kg, (len(kgs) - 1 - number) * every)
    return patient


def test_a_growing_one_shows_its_share_its_gain_and_the_restraint_of_large_breeds(house):
    page = page_of(house, puppy(house, "10", "12.2", "14.4", adult="40"))
    assert "Reached</dt><dd>36 % of it" in page
    assert "1,100 g a week (9.0 %)" in page
    assert "A large puppy is kept lean and fed measured meals" in page
    assert "No centile chart" in page
    assert "The same as a table" in page


def test_a_growing_one_that_does_not_gain_is_looked_at_today(house):
    assert "look for the cause today" in page_of(house, puppy(house, "10", "9.9", adult="20"))


def grown(patient, **sent):
    return f"/patients/{patient.pk}/grown-weight/", {"how": "parents", "first": "34", "second": "28"} | sent


def test_a_grown_weight_from_the_parents_is_kept_and_marked_as_an_estimate(house):
    patient = puppy(house, "10", "12")
    assert "not known: ask, or estimate it" in page_of(house, patient)
    url, form = grown(patient)
    assert visitor(house, "technician").post(url, form).status_code == 302
    patient.refresh_from_db()
    assert patient.expected_adult_kg == 31
    page = page_of(house, patient)
    assert "about 31 kg, 28 to 34<small>an estimate from its parents" in page
    visitor(house, "technician").post(*grown(patient, how="asked", first="33", second=""))
    assert "about 33 kg<small>as said by" in page_of(house, patient)


@pytest.mark.parametrize(
    ("sent_too", "says"),
    [({"second": ""}, "An estimate needs both"), ({"first": "0"}, "0.2"), ({"first": "big"}, "number")],
)
def test_half_an_estimate_is_refused_beside_its_field(house, sent_too, says):
    patient = puppy(house, "10", "12")
    answer = visitor(house, "technician").post(*grown(patient, **sent_too))
    assert answer.status_code == 422
    assert says in answer.content.decode()
    patient.refresh_from_db()
    assert patient.expected_adult_kg is None


def test_a_grown_weight_is_only_added_to(house):
    from django.db import IntegrityError

    from nutrition.models import ExpectedGrownWeight

    patient = puppy(house, "10")
    visitor(house, "technician").post(*grown(patient))
    with pytest.raises(IntegrityError, match="only added"):
        ExpectedGrownWeight.objects.update(kg=30)
