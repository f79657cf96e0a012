"""The patient's own picture: what tells one grey cat from another before anything is entered."""

from datetime import datetime
from pathlib import PurePosixPath

from clinic.patients.actions.animals import change_patient
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.files import keep
from clinic.platform.pictures import prepare_square

SIDE = 480  # pixels: sharp in the corner of every screen, and a few dozen kilobytes


def set_picture(*, actor: Actor, now: datetime, patient: Patient, content: bytes) -> Patient:
    """The middle of the sent picture becomes the patient's; what was there before stays in its history.

    Raises NotAPicture.
    """
    actor.require(Right.EDIT_PEOPLE)
    name = keep(prepare_square(content, side=SIDE), ".jpg")
    return change_patient(actor=actor, now=now, patient=patient, photo_sha256=PurePosixPath(name).stem)


def remove_picture(*, actor: Actor, now: datetime, patient: Patient) -> Patient:
    """None again."""
    return change_patient(actor=actor, now=now, patient=patient, photo_sha256="")
