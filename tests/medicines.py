"""The clinic's list of medicines as tests have it: the demo's invented ones."""

from clinic.care.actions.listed import list_medicine
from clinic.care.listed_models import ListedMedicine
from clinic.people.actor import Actor
from fixtures.demo.medicines import told
from tests.people import NOW


def keep_list(actor: Actor) -> list[ListedMedicine]:
    """Everything the demo lists."""
    return [list_medicine(facts=facts, actor=actor, now=NOW) for facts in told()]
