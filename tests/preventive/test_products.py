"""The clinic enters what it uses from the labels; nothing here is a real product."""

from decimal import Decimal
from itertools import pairwise
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import given, settings, strategies

from preventive import actions, products
from preventive.errors import Incomplete
from preventive.letter import ROOM
from preventive.letter import size as size_in_letter
from preventive.models import Dose, Product
from preventive.product_label import Size, SizesWrong, band_rows, sizes_typed
from preventive.products import preventive_facts
from tests import people
from tests.examples import examples
from tests.preventive.room import NOW, Room, room

KG = Decimal(1)
POUND = Decimal("0.45359237")  # NIST Handbook 44, Appendix C: one avoirdupois pound


def size(low, high):
    return Size(Decimal(str(low)) if low else None, Decimal(str(high)) if high else None)


def test_sizes_are_named_as_labels_name_them():
    rows = band_rows([size(2.5, 5), size(5, 10), size(10, None)], unit="kg", kg=KG)
    assert [row["name"] for row in rows] == ["2.5 to 5 kg", "over 5 to 10 kg", "over 10 kg"]
    assert [(row.get("min_kg"), row.get("max_kg")) for row in rows] == [
        (2.5, 5.0),
        (5.001, 10.0),
        (10.001, None),
    ]


def test_a_label_in_pounds_stays_in_pounds_and_weighs_in_kilograms():
    (row,) = band_rows([size(None, 22)], unit="lb", kg=POUND)
    assert row == {"name": "up to 22 lb", "max_kg": 9.979}


@pytest.mark.parametrize(
    ("low", "high", "follows", "said"),
    [
        (5, 10, True, "de más de 5 a 10 lb"),
        (5, 10, False, "de 5 a 10 lb"),
        (None, 10, False, "hasta 10 lb"),
        (10, None, True, "más de 10 lb"),
    ],
)
def test_a_letter_says_every_size_in_the_owner_s_language(low, high, follows, said):
    before = [size(None, low)] if follows else []
    name = band_rows([*before, size(low, high)], unit="lb", kg=POUND)[-1]["name"]
    assert size_in_letter(name, ROOM.of_files("es")) == said


@pytest.mark.parametrize("sizes", [[size(5, 5)], [size(2, 5), size(4, 10)], [size(2, None), size(5, 10)]])
def test_sizes_that_overlap_or_are_none_are_refused(sizes):
    with pytest.raises(SizesWrong):
        band_rows(sizes, unit="kg", kg=KG)


@given(strategies.lists(strategies.integers(1, 9999), min_size=2, max_size=8, unique=True))
@settings(max_examples=examples(60))
def test_every_weight_within_the_label_has_one_size_and_names_are_read_back(cuts):
    ends = [Decimal(cut) / 100 for cut in sorted(cuts)]
    sizes = [Size(low, high) for low, high in pairwise(ends)]
    rows = band_rows(sizes, unit="kg", kg=KG)
    assert sizes_typed(rows) == ("kg", sizes)
    facts = {"form": "chew", "ingredients": ["x"], "protects": ["heartworm"], "interval": "1 mo"}
    label = preventive_facts({**facts, "bands": rows})
    for low, high in pairwise(ends):
        band = label.band_for(float(high))
        assert band is not None
        assert band.max_kg == pytest.approx(float(high))
        assert label.band_for(float(low)) is not None
    assert label.band_for(float(ends[-1]) + 0.01) is None


@pytest.fixture
def house(db) -> Room:
    return room(13)


VACCINE = {
    "name": "Testavar Two",
    "maker": "Marrowfield Veterinary",
    "species": ["dog"],
    "antigens": ["Leptospira"],
    "type": "inactivated",
    "route": "SC",
    "also": ["IM"],
    "licensed_months": "12",
    "min_age": "8",
    "min_age_unit": "wk",
    "min_interval": "2",
    "min_interval_unit": "wk",
    "volume": "1 ml",
}
CHEW = {
    "name": "Testbane chew",
    "maker": "Ostrava Kettle Animal Health",
    "species": ["dog"],
    "form": "chew",
    "ingredients": "Milbemycin oxime, praziquantel",
    "protects": ["heartworm", "intestinal"],
    "interval": "1",
    "interval_unit": "mo",
    "min_age": "8",
    "min_age_unit": "wk",
    "weight_in": "lb",
    "low_0": "6",
    "high_0": "11",
    "low_1": "11",
    "high_1": "22",
}


def send(house, url, facts, role="manager"):
    client = Client()
    client.force_login(getattr(house.people, role))
    return client.post(url, {"once": uuid4()} | facts)


def new(house, facts, kind="vaccine", role="manager"):
    return send(house, reverse("product-new", args=[kind]), facts, role)


def test_a_vaccine_is_entered_from_its_label_and_given(house):
    assert new(house, VACCINE, role="clinician").status_code == 302
    made = Product.objects.get(name="Testavar Two")
    assert made.code == "testavar-two"
    assert made.facts == {
        "antigens": ["Leptospira"],
        "type": "inactivated",
        "routes": ["SC", "IM"],
        "licensed_months": 12,
        "min_age": "8 wk",
        "min_interval": "2 wk",
        "volume": "1 ml",
    }
    house.stock[made.code] = made
    lot = actions.receive_lot(
        actor=house.actor("manager"),
        now=NOW,
        product=made,
        number="TV1",
        expires_on=people.TODAY.replace(year=people.TODAY.year + 1),
        received_on=people.TODAY,
        count=5,
    )
    dose = house.give(made.code, lot=lot, site="RSH")
    assert dose.product_facts["facts"]["routes"] == ["SC", "IM"]


def test_a_preventive_is_entered_with_its_sizes(house):
    assert new(house, CHEW, "preventive").status_code == 302
    made = Product.objects.get(name="Testbane chew")
    assert [each["name"] for each in made.facts["bands"]] == ["6 to 11 lb", "over 11 to 22 lb"]
    assert made.facts["ingredients"] == ["milbemycin oxime", "praziquantel"]
    supply = actions.record_supply(
        actor=house.actor(), now=NOW, patient=house.patient, visit=house.visit, product=made, count=1
    )
    assert supply.band == "over 11 to 22 lb"  # 8.4 kg are 18.5 lb


@pytest.mark.parametrize(
    ("facts", "says"),
    [
        ({"name": ""}, "Which name stands on the label?"),
        ({"antigens": []}, "Against what?"),
        ({"antigens": ["FPV"]}, "no rule for it in this species"),
        ({"type": ""}, "Live, inactivated or recombinant?"),
        ({"min_age": "soon"}, "A whole number."),
        ({"name": "Corvane Three, live", "maker": "Lindhollow Biologicals"}, "is on the list"),
    ],
)
def test_what_is_missing_or_wrong_is_said_and_what_was_typed_stays(house, facts, says):
    answer = new(house, VACCINE | facts)
    shown = answer.content.decode()
    assert answer.status_code == 422
    assert says in shown
    assert 'value="1 ml"' in shown


@pytest.mark.parametrize(
    ("facts", "says"),
    [
        ({"high_0": "5"}, "Size 1: 5 lb is not more than 6 lb."),
        ({"low_1": "9"}, "Size 2 begins before size 1 ends."),
        ({"low_1": "a few"}, "A weight."),
        ({"interval": ""}, "How long until the next"),
    ],
)
def test_sizes_that_cannot_be_are_said(house, facts, says):
    answer = new(house, CHEW | facts, "preventive")
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert not Product.objects.filter(name="Testbane chew").exists()


def test_a_misspelt_ingredient_is_asked_about_as_no_question_would_come(house):
    wrong = CHEW | {"ingredients": "permetrin"}
    answer = new(house, wrong, "preventive")
    assert answer.status_code == 422
    assert "Not known here: permetrin" in answer.content.decode()
    assert new(house, wrong | {"sure": "on"}, "preventive").status_code == 302


def test_a_changed_label_leaves_what_was_given_as_it_was(house):
    dose = house.give()
    product = house.stock["corvane-three"]
    changed = VACCINE | {"name": product.name, "maker": product.maker, "antigens": ["CDV", "CPV"]}
    url = reverse("product", args=[product.pk])
    assert send(house, url, changed | {"type": "live", "licensed_months": "24"}).status_code == 302
    product.refresh_from_db()
    assert product.facts["licensed_months"] == 24
    kept = Dose.objects.get(pk=dose.pk)
    assert kept.product_facts["facts"]["licensed_months"] == 36


def test_every_label_of_the_list_comes_back_from_its_page_as_it_was(house):
    """A look and a save change nothing that a rule reads."""
    client = Client()
    client.force_login(house.people.manager)
    for listed in products.read():
        product = house.stock[listed.code]
        form = client.get(reverse("product", args=[product.pk])).context["form"]
        sent = {name: value for name in form.fields if (value := form[name].value()) not in (None, "")}
        before = product.facts
        assert send(house, reverse("product", args=[product.pk]), sent).status_code == 302, listed.code
        product.refresh_from_db()
        for name in before.keys() - {"bands"}:
            assert product.facts[name] == before[name], (listed.code, name)
        for one, other in zip(product.facts.get("bands", ()), before.get("bands", ()), strict=True):
            assert one["name"] == other["name"]
            assert one.get("max_kg") == other.get("max_kg")


def test_a_size_that_a_box_on_the_shelf_holds_has_to_stay(house):
    product = house.stock["wormbane-chew-dog"]
    facts = {**product.facts, "bands": product.facts["bands"][2:]}
    with pytest.raises(Incomplete, match="holds the size"):
        actions.keep_product(
            actor=house.actor("manager"),
            now=NOW,
            product=product,
            kind=product.kind,
            name=product.name,
            maker=product.maker,
            species=["dog"],
            facts=facts,
        )


def test_what_is_no_longer_used_is_not_offered_and_nothing_is_given_from_it(house):
    product, lot = house.stock["corvane-three"], house.lot("corvane-three")
    assert send(house, reverse("product-use", args=[product.pk]), {"used": "no"}).status_code == 302
    product.refresh_from_db()
    assert product.retired_on
    sent = {"well": "well", "consent": "yes", "lot-dog_core": lot.pk, "site-dog_core": "RSH"}
    url = reverse("prevention-give", args=[house.visit.pk])
    assert send(house, url, sent, "clinician").status_code == 404
    send(house, reverse("product-use", args=[product.pk]), {"used": "yes"})
    product.refresh_from_db()
    assert product.retired_on is None


def test_an_empty_list_says_what_to_do_first(db):
    staff = people.people()
    client = Client()
    client.force_login(staff.manager)
    shown = client.get(reverse("stock")).content.decode()
    assert "Enter each vaccine and each preventive from its label" in shown
    client.force_login(staff.assistant)
    assert "A manager or a clinician enters" in client.get(reverse("stock")).content.decode()
