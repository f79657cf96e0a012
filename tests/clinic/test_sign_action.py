"""Signing: everything that is missing is said at once; what is signed is sealed and frozen."""

from dataclasses import dataclass, field
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction

from clinic.models import HeadsUp, Record
from clinic.people.actor import NotAllowed
from clinic.platform.registries import Missing, sign_checks, sign_steps
from clinic.visits import actions
from clinic.visits.errors import AlreadySigned, NotReady, NotSignedYet, SentBefore
from clinic.visits.seal import frozen_tables, seal, signed_content
from tests import people

pytestmark = pytest.mark.django_db


@dataclass
class Plug:
    """A check or a step of another room."""

    name: str
    order: int = 500
    found: list[Missing] = field(default_factory=list)
    ran: list[bool] = field(default_factory=list)
    fails: bool = False

    def missing(self, record, *, actor):
        return self.found

    def run(self, record, *, actor, now):
        self.ran.append(record.is_signed)
        HeadsUp.objects.create(
            record=record, station="", words="by a step", by=actor.staff, at=now, answer="looked"
        )
        if self.fails:
            raise RuntimeError("a step fails")


@pytest.fixture(autouse=True)
def only_own_plugs(monkeypatch: pytest.MonkeyPatch) -> None:
    """The other rooms' checks and steps have tests of their own."""
    own = {
        name: entry for name, entry in sign_checks._entries.items() if name in ("weight", "bcs", "heads-up")
    }
    monkeypatch.setattr(sign_checks, "_entries", own)
    monkeypatch.setattr(sign_steps, "_entries", {})


@pytest.fixture
def house() -> people.People:
    return people.people()


@pytest.fixture
def record(house: people.People) -> Record:
    return people.visit_here(clinician=house.clinician).record


@pytest.fixture
def vet(house: people.People) -> dict:
    return {"actor": house.actor("clinician"), "now": people.NOW}


def ready(record: Record, vet: dict) -> Record:
    people.weigh(record.visit, "27.4", by=vet["actor"].staff)
    actions.excuse_bcs(record=record, reason="bandaged", **vet)
    return record


def pin(record: Record, vet: dict) -> HeadsUp:
    return actions.pin_heads_up(record=record, station="", words="sits oddly", **vet)


def test_everything_missing_is_listed_at_once(record: Record, vet: dict) -> None:
    heads_up = pin(record, vet)
    with pytest.raises(NotReady) as refused:
        actions.sign(record=record, **vet)
    assert [each.code for each in refused.value.missing] == ["bcs", "weight", f"heads-up:{heads_up.pk}"]
    record.refresh_from_db()
    assert not record.is_signed


def test_a_struck_weight_does_not_count(record: Record, vet: dict) -> None:
    ready(record, vet)
    record.visit.measurements.update(
        struck_at=people.NOW, struck_by=vet["actor"].staff, struck_reason="wrong animal"
    )
    with pytest.raises(NotReady, match="weight"):
        actions.sign(record=record, **vet)


def test_a_telephone_visit_needs_no_scale(record: Record, vet: dict) -> None:
    actions.set_kind(visit=record.visit, kind="telephone", reason="asked by telephone", **vet)
    record.visit.refresh_from_db()
    assert actions.sign(record=record, **vet).is_signed


def test_what_does_not_block_is_no_refusal(record: Record, vet: dict) -> None:
    sign_checks.add(Plug("elsewhere", found=[Missing("new", "A grade is provisional.", "/", blocks=False)]))
    assert actions.sign(record=ready(record, vet), **vet).is_signed


def test_another_rooms_check_refuses(record: Record, vet: dict) -> None:
    sign_checks.add(Plug("elsewhere", found=[Missing("lines", "3 lines are not answered.", "/")]))
    with pytest.raises(NotReady, match="3 lines"):
        actions.sign(record=ready(record, vet), **vet)


def test_the_signature_says_who_with_which_licence(record: Record, vet: dict) -> None:
    signed = actions.sign(record=ready(record, vet), **vet)
    assert signed.signed_name == "Dr Maren Oduya, licence L-1001 Fenland"
    assert (signed.signed_at, signed.signed_by) == (people.NOW, vet["actor"].staff)


@pytest.mark.parametrize("role", ["technician", "assistant", "manager"])
def test_only_clinicians_sign(record: Record, vet: dict, house: people.People, role: str) -> None:
    with pytest.raises(NotAllowed):
        actions.sign(record=ready(record, vet), actor=house.actor(role), now=people.NOW)


def test_it_is_signed_once(record: Record, vet: dict, house: people.People) -> None:
    actions.sign(record=ready(record, vet), **vet)
    with pytest.raises(AlreadySigned, match="Maren Oduya"):
        actions.sign(record=record, actor=house.actor("colleague"), now=people.NOW)


def test_a_form_sent_twice_signs_once(record: Record, vet: dict) -> None:
    once = uuid4()
    actions.sign(record=ready(record, vet), once=once, **vet)
    with pytest.raises(SentBefore):
        actions.sign(record=record, once=once, **vet)


def test_steps_run_in_order_while_the_record_is_still_open(record: Record, vet: dict) -> None:
    first, second = Plug("b", order=10), Plug("a", order=20)
    sign_steps.add(second)
    sign_steps.add(first)
    actions.sign(record=ready(record, vet), **vet)
    assert first.ran == second.ran == [False]


def test_a_step_that_fails_leaves_nothing_signed(record: Record, vet: dict) -> None:
    sign_steps.add(Plug("fails", fails=True))
    with pytest.raises(RuntimeError):
        actions.sign(record=ready(record, vet), **vet)
    record.refresh_from_db()
    assert not record.is_signed
    assert not record.heads_ups.exists()


def test_the_seal_covers_what_a_step_wrote(record: Record, vet: dict) -> None:
    sign_steps.add(Plug("writes"))
    signed = actions.sign(record=ready(record, vet), **vet)
    assert len(signed.seal) == 64
    assert seal(signed) == signed.seal
    assert "by a step" in str(signed_content(signed)["rows"]["clinic_headsup"])


@pytest.mark.django_db
def test_the_seal_covers_every_table_that_freezes() -> None:
    assert {"clinic_headsup", "clinic_medicine", "clinic_planline", "exams_finding"} <= set(frozen_tables())


def test_a_table_without_rows_changes_no_seal(record: Record, vet: dict) -> None:
    pin(record, vet)
    assert list(signed_content(record)["rows"]) == ["clinic_headsup"]


def test_another_word_makes_another_seal(record: Record, vet: dict) -> None:
    before = seal(record)
    heads_up = pin(record, vet)
    between = seal(record)
    HeadsUp.objects.filter(pk=heads_up.pk).update(words="sits very oddly")
    assert len({before, between, seal(record)}) == 3


def test_after_signing_the_database_refuses_even_the_seal(record: Record, vet: dict) -> None:
    signed = actions.sign(record=ready(record, vet), **vet)
    with pytest.raises(IntegrityError, match="refused"), transaction.atomic():
        Record.objects.filter(pk=signed.pk).update(seal="0" * 64)


def test_an_open_record_has_no_addenda(record: Record, vet: dict) -> None:
    with pytest.raises(NotSignedYet):
        actions.add_addendum(record=record, text="later", **vet)


def test_an_addendum_stands_beside_the_signed_text(record: Record, vet: dict) -> None:
    signed = actions.sign(record=ready(record, vet), **vet)
    actions.add_addendum(record=signed, text="The owner called.", corrects="Ear, left", **vet)
    assert signed.addenda.get().corrects == "Ear, left"
    assert seal(signed) == signed.seal


def test_a_technician_adds_only_to_a_visit_of_her_own(
    record: Record, vet: dict, house: people.People
) -> None:
    signed = actions.sign(record=ready(record, vet), **vet)
    tech = {"actor": house.actor("technician"), "now": people.NOW}
    with pytest.raises(NotAllowed):
        actions.add_addendum(record=signed, text="I forgot.", **tech)
    signed.visit.technician = house.technician
    assert actions.add_addendum(record=signed, text="I forgot.", **tech).by == house.technician
