"""The clinic's list of medicines as rows: what it holds, who may change it, and what is left untouched."""

from dataclasses import replace
from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from clinic.care.actions import prescribe
from clinic.care.actions.listed import Facts, SaidKinds, change_listed, list_medicine, put_back, take_off
from clinic.care.actions.medicines import questions_for
from clinic.care.catalogue import find_listed, find_several, known_kinds, offered
from clinic.care.directions import Directions
from clinic.care.errors import TextMissing
from clinic.care.kinds import KINDS, KindsUnreadable, published, read
from clinic.care.listed_errors import KindsChanged, ListChanged, NameStands, NotAKind
from clinic.models import IngredientKinds, ListedMedicine, Medicine
from clinic.people.actor import NotAllowed
from clinic.visits.actions import add_given_at_home
from clinic.visits.errors import SentBefore
from fixtures.demo.medicines import told
from tests import medicines, people
from tests.people import NOW, TODAY

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(hours=2)
CHEWS = Facts("Oakwhistle chews 50", ("carprofen",), "50 mg in a chew", "by mouth", "chews", ("dog",))
DROPS = Facts("Willowmere drops", ("eyebright",), "1 mg in 1 ml", "into the eye", "drops")


@pytest.fixture
def staff():
    return people.people()


@pytest.fixture
def me(staff):
    return {"actor": staff.actor("clinician"), "now": NOW}


@pytest.fixture
def chews(me) -> ListedMedicine:
    return list_medicine(facts=CHEWS, **me)


def directed(name: str, *ingredients: str) -> Directions:
    return Directions(
        name=name, ingredients=ingredients, strength="50 mg in a chew", dose="1 chew", route="by mouth",
        times="once a day", first_dose="", last_dose="",
    )  # fmt: skip


def codes(visit, directions: Directions) -> list[str]:
    return [each.code for each in questions_for(record=visit.record, directions=directions, today=TODAY)]


def test_a_new_installation_lists_nothing_and_directs_in_free_words(staff, me):
    assert (offered(), find_listed("Oakwhistle chews 50")) == ((), None)
    visit = people.visit_here(clinician=staff.clinician)
    assert codes(visit, directed("Anything", "carprofen")) == ["weight"]


def test_nothing_of_the_clinic_reads_the_demos_files():
    readers = [file for file in (KINDS.parents[1]).rglob("*.py") if "medicines.toml" in file.read_text()]
    assert readers == []


def test_the_demos_list_is_whole_and_every_ingredient_of_it_is_known(me):
    medicines.keep_list(me["actor"])
    assert len(offered()) == len(told()) > 10
    assert all(published().knows(each) for facts in told() for each in facts.ingredients)


def test_what_is_listed_is_found_however_it_is_written(chews):
    assert find_listed("  oakwhistle CHEWS  50 ").ingredients == ("carprofen",)
    assert find_listed("no such thing") is None


def test_names_are_put_straight_and_an_ingredient_stands_once(me):
    made = list_medicine(
        facts=replace(CHEWS, name="  Two   blanks ", ingredients=("carprofen", " carprofen ", "")), **me
    )
    assert (made.name, made.ingredients) == ("Two blanks", ["carprofen"])


@pytest.mark.parametrize(
    ("part", "value"),
    [
        ("name", " "),
        ("ingredients", ()),
        ("strength", ""),
        ("unit", " "),
        ("route", "x"),
        ("species", ("emu",)),
    ],
)
def test_what_is_missing_is_said_beside_its_field(part, value, me):
    with pytest.raises(TextMissing) as refused:
        list_medicine(facts=replace(CHEWS, **{part: value}), **me)
    assert refused.value.field == part
    assert not ListedMedicine.objects.exists()


def test_a_name_stands_once_whatever_its_case(chews, me):
    with pytest.raises(NameStands, match="on the list already"):
        list_medicine(facts=replace(CHEWS, name="OAKWHISTLE chews 50"), **me)
    other = list_medicine(facts=DROPS, **me)
    with pytest.raises(NameStands):
        change_listed(row=other, seen=1, facts=replace(DROPS, name="oakwhistle chews 50"), **me)
    take_off(row=chews, seen=1, reason="no longer made", **me)
    with pytest.raises(NameStands, match="put it back instead"):
        list_medicine(facts=CHEWS, **me)


@pytest.mark.parametrize("role", ["assistant", "technician"])
def test_only_clinicians_and_the_manager_change_it(role, chews, staff):
    other = {"actor": staff.actor(role), "now": NOW}
    for change in (
        lambda: list_medicine(facts=DROPS, **other),
        lambda: change_listed(row=chews, seen=1, facts=CHEWS, **other),
        lambda: take_off(row=chews, seen=1, reason="x", **other),
        lambda: put_back(row=chews, seen=1, **other),
    ):
        with pytest.raises(NotAllowed):
            change()
    assert list_medicine(facts=DROPS, actor=staff.actor("manager"), now=NOW).added_by == staff.manager


def test_who_saw_an_older_version_is_refused_and_changes_nothing(chews, me, staff):
    strong = replace(CHEWS, strength="100 mg in a chew")
    change_listed(row=chews, seen=1, facts=strong, actor=staff.actor("colleague"), now=LATER)
    for change in (
        lambda: change_listed(row=chews, seen=1, facts=replace(CHEWS, unit="pieces"), **me),
        lambda: take_off(row=chews, seen=1, reason="x", **me),
        lambda: put_back(row=chews, seen=1, **me),
    ):
        with pytest.raises(ListChanged, match="Dr Tobias Falk") as refused:
            change()
        assert refused.value.row.version == 2
    chews.refresh_from_db()
    assert (chews.strength, chews.unit, chews.off_at, chews.version) == ("100 mg in a chew", "chews", None, 2)


def test_sent_twice_counts_once(me):
    once = uuid4()
    made = list_medicine(facts=CHEWS, once=once, **me)
    with pytest.raises(SentBefore):
        list_medicine(facts=CHEWS, once=once, **me)
    off = uuid4()
    take_off(row=made, seen=1, reason="gone", once=off, **me)
    with pytest.raises(SentBefore):
        take_off(row=made, seen=1, reason="gone", once=off, **me)
    made.refresh_from_db()
    assert made.version == 2


def test_a_refused_change_does_not_spend_its_token(chews, me):
    once = uuid4()
    with pytest.raises(ListChanged):
        change_listed(row=chews, seen=7, facts=CHEWS, once=once, **me)
    assert change_listed(row=chews, seen=1, facts=CHEWS, once=once, **me).version == 2


def test_taken_off_it_is_not_offered_and_put_back_it_is(chews, me):
    with pytest.raises(TextMissing):
        take_off(row=chews, seen=1, reason=" ", **me)
    take_off(row=chews, seen=1, reason="no longer made", **me)
    assert offered() == ()
    assert find_listed(CHEWS.name).off == "no longer made"
    put_back(row=chews, seen=2, **me)
    assert [each.name for each in offered()] == [CHEWS.name]


def test_every_change_is_kept_with_who_and_when(chews, me, staff):
    take_off(row=chews, seen=1, reason="no longer made", actor=staff.actor("manager"), now=LATER)
    put_back(row=chews, seen=2, **me)
    kept = [(e.version, e.changed_by_id, e.changed_at, e.off_reason) for e in chews.events.order_by("pgh_id")]
    assert kept == [
        (1, staff.clinician.pk, NOW, ""),
        (2, staff.manager.pk, LATER, "no longer made"),
        (3, staff.clinician.pk, NOW, ""),
    ]


def test_changing_the_list_changes_no_record(chews, me, staff):
    visit = people.visit_here(clinician=staff.clinician)
    people.weigh(visit, "20", by=staff.technician)
    problem = visit.patient.problems.create(title="Sore hip", opened_at=NOW, opened_by=staff.clinician)
    made = prescribe(
        record=visit.record, problem=problem, how="dispensed", reason="pain",
        directions=directed(CHEWS.name, "carprofen"), **me,
    )  # fmt: skip
    before = Medicine.objects.values().get(pk=made.pk)
    other = Facts("Oakwhistle chews new", ("meloxicam",), "1 mg in a chew", "by mouth", "halves", ("cat",))
    change_listed(row=chews, seen=1, facts=other, **me)
    take_off(row=chews, seen=2, reason="replaced", **me)
    assert Medicine.objects.values().get(pk=made.pk) == before


# ---- kinds


def test_an_unknown_ingredient_has_no_kind_until_somebody_says_it(me, staff):
    visit = people.visit_here(clinician=staff.clinician)
    people.weigh(visit, "20", by=staff.technician)
    visit.patient.alerts.create(kind="allergy", text="cortisone", entered_by=staff.clinician, entered_at=NOW)
    assert codes(visit, directed("x", "eyebright")) == []
    list_medicine(facts=DROPS, kinds={"Eyebright": SaidKinds(frozenset({"steroid"}))}, **me)
    assert known_kinds().find("eyebright") == {"steroid"}
    assert codes(visit, directed("x", "eyebright")) == ["allergy"]


def test_what_a_clinic_says_takes_nothing_from_the_file(me):
    list_medicine(facts=CHEWS, kinds={"carprofen": SaidKinds(frozenset({"opioid"}))}, **me)
    assert known_kinds().find("carprofen") == {"nsaid", "opioid"}


def test_a_kind_outside_the_closed_list_is_refused(me):
    with pytest.raises(NotAKind):
        list_medicine(facts=DROPS, kinds={"eyebright": SaidKinds(frozenset({"herb"}))}, **me)
    assert not ListedMedicine.objects.exists()


def test_of_two_who_say_the_kinds_the_second_learns_what_the_first_said(me, staff):
    mine = {"eyebright": SaidKinds(frozenset({"opioid"}))}
    theirs = {"eyebright": SaidKinds(frozenset({"steroid"}))}
    list_medicine(facts=DROPS, kinds=theirs, actor=staff.actor("colleague"), now=NOW)
    other = replace(DROPS, name="Other")
    with pytest.raises(KindsChanged, match="Dr Tobias Falk") as refused:
        list_medicine(facts=other, kinds=mine, **me)
    assert refused.value.row.kinds == ["steroid"]
    assert ListedMedicine.objects.count() == 1
    seen = {"eyebright": SaidKinds(frozenset({"opioid"}), seen=1)}
    list_medicine(facts=other, kinds=seen, **me)
    assert (IngredientKinds.objects.get().kinds, IngredientKinds.objects.get().version) == (["opioid"], 2)


def test_what_an_owner_gives_is_known_from_the_list_and_asks_no_more_with_many(chews, me, staff):
    take_off(row=chews, seen=1, reason="no longer made", **me)
    visit = people.visit_here(clinician=staff.clinician)
    people.weigh(visit, "20", by=staff.technician)
    technician = {"actor": staff.actor("technician"), "now": NOW}
    add_given_at_home(record=visit.record, name="oakwhistle chews 50", **technician)
    asked = questions_for(record=visit.record, directions=directed("y", "meloxicam"), today=TODAY)
    assert [each.code for each in asked] == ["duplicate"]
    counted = []
    for many in (1, 8):
        for number in range(many):
            add_given_at_home(record=visit.record, name=f"Ibuprofen {many}{number}", **technician)
        with CaptureQueriesContext(connection) as sql:
            codes(visit, directed("y", "meloxicam"))
        counted.append(len(sql))
    assert counted[0] == counted[1]


def test_each_question_to_the_list_is_one(chews, django_assert_num_queries):
    for question in (offered, known_kinds, lambda: find_listed("x"), lambda: find_several(["x", "y", "z"])):
        with django_assert_num_queries(1):
            question()


# ---- the file of kinds


def test_every_kind_and_ingredient_of_the_file_has_a_source():
    assert all(each.source and each.title for each in published().kinds)
    assert {"nsaid", "steroid"} <= published().names()


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('kinds = ["nsaid"]', 'kinds = ["unheard of"]', "unheard of"),
        ('name = "carprofen"', 'name = "Meloxicam"', "stands twice"),
        ('kinds = ["nsaid"]\nsource = "common practice"', 'kinds = ["nsaid"]\nsource = ""', "no source"),
    ],
)
def test_a_file_that_explains_too_little_is_refused(old, new, says, tmp_path):
    text = KINDS.read_text(encoding="utf-8")
    assert old in text
    (tmp_path / "kinds.toml").write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(KindsUnreadable, match=says):
        read(tmp_path / "kinds.toml")


# ---- what the database holds by itself


@pytest.mark.parametrize(
    ("columns", "rule"),
    [
        ({"name": ""}, "a_listed_medicine_says_what_it_is"),
        ({"strength": ""}, "a_listed_medicine_says_what_it_is"),
        ({"unit": ""}, "a_listed_medicine_says_what_it_is"),
        ({"ingredients": []}, "a_listed_medicine_has_ingredients"),
        ({"ingredients": ["carprofen", ""]}, "a_listed_medicine_has_ingredients"),
        ({"species": ["dog", "emu"]}, "a_listed_medicine_is_for_dogs_or_cats"),
        ({"route": "through the ear"}, "a_listed_medicine_has_a_route"),
        ({"off_at": NOW}, "a_medicine_is_taken_off_with_a_reason"),
        ({"off_reason": "x"}, "a_medicine_is_taken_off_with_a_reason"),
    ],
)
def test_the_database_refuses(columns, rule, chews):
    with pytest.raises(IntegrityError, match=rule), transaction.atomic():
        ListedMedicine.objects.filter(pk=chews.pk).update(**columns)


def test_the_database_holds_a_name_and_an_ingredient_once(chews, me, staff):
    row = ListedMedicine.objects.values().get(pk=chews.pk)
    again = {**row, "id": None, "name": "OAKWHISTLE CHEWS 50"}
    with pytest.raises(IntegrityError, match="a_medicine_is_listed_once"), transaction.atomic():
        ListedMedicine.objects.create(**again)
    IngredientKinds.objects.create(ingredient="eyebright", by=staff.clinician, at=NOW)
    with pytest.raises(IntegrityError, match="an_ingredient_has_its_kinds_once"), transaction.atomic():
        IngredientKinds.objects.create(ingredient="Eyebright", by=staff.clinician, at=NOW)
