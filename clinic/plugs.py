"""What the subjects of clinic themselves plug into its registries."""

from clinic.callbacks.plugs import register as plug_in_callbacks
from clinic.care.letter import CareInLetter
from clinic.care.plugs import register as plug_in_care
from clinic.death.plugs import register as plug_in_death
from clinic.letters.plugs import register as plug_in_letters
from clinic.morning.plugs import register as plug_in_morning
from clinic.patients.plugs import register as plug_in_patients
from clinic.people.plugs import register as plug_in_people
from clinic.platform.registries import exports, letter_parts
from clinic.promises.plugs import register as plug_in_promises
from clinic.records.kept import RecordExport
from clinic.summaries.plugs import register as plug_in_summaries
from clinic.visits.letter import VisitInLetter
from clinic.visits.plugs import register as plug_in_visits


def plug_in() -> None:
    """Called once, when the apps are ready."""
    letter_parts.add(CareInLetter())
    letter_parts.add(VisitInLetter())
    exports.add(RecordExport())
    plug_in_people()
    plug_in_patients()
    plug_in_visits()
    plug_in_care()
    plug_in_promises()
    plug_in_death()
    plug_in_callbacks()
    plug_in_morning()
    plug_in_summaries()
    plug_in_letters()
