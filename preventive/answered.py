"""What an owner says was done elsewhere, once staff accept it: an outside dose, with its proof."""

from datetime import date, datetime

from django.utils import timezone

from clinic.patients.models import Patient
from clinic.people.actor import Actor
from preventive.actions.outside import OutsideDose, record_outside_doses
from preventive.call_backs import SOURCE
from preventive.due import grouped
from preventive.knowing import histories_of
from preventive.models import Source
from preventive.protocol import Protocol
from preventive.schedule import due_items
from preventive.versions import protocol_in_force


class DoseElsewhere:
    """A vaccine becomes a dose; anything else of the dues is no record of its own."""

    name, order = SOURCE, 10

    def take(
        self,
        *,
        patient: Patient,
        key: str,
        on: date,
        stored: str,
        words: str,
        product: str,
        lot: str,
        actor: Actor,
        now: datetime,
    ) -> str:
        """Without a proof, or words of one, it is the owner's word, and counts as that."""
        protocol = protocol_in_force()
        antigens = antigens_of(patient, key, protocol, today=timezone.localdate(now))
        if not antigens:
            return ""
        proven = bool(stored or words.strip())
        record_outside_doses(
            actor=actor,
            now=now,
            patient=patient,
            doses=[
                OutsideDose(antigens=antigens, given_on=on, precision="day", product_name=product, lot=lot)
            ],
            source=Source.OUTSIDE if proven else Source.OWNER,
            proof_words=words,
            stored=stored,
        )
        return "a dose from elsewhere" if proven else "a dose from elsewhere, by the owner’s word"


def antigens_of(patient: Patient, key: str, protocol: Protocol, *, today: date) -> tuple[str, ...]:
    """Those that were due together under this key; empty for what is no vaccine."""
    rules = protocol.rules
    if key == "rabies":
        return (rules.rabies.antigen,)
    known = histories_of([patient], today=today)[patient.pk]
    groups = grouped(due_items(known.animal, known.history, protocol, today))
    codes = next((tuple(due.code for due in each.dues) for each in groups if each.first.code == key), (key,))
    found: list[str] = []
    for code in codes:
        rule, _, antigen = code.partition(":")
        if rule in rules.vaccines:
            found += [antigen] if antigen else rules.vaccines[rule].antigens
    return tuple(dict.fromkeys(found))
