"""All that was recorded for one patient, as files: every room's rows, by whom, and for whom."""

import json
from io import BytesIO, StringIO
from zipfile import ZipFile

import pytest
from django.apps import apps
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from clinic.models import Patient
from clinic.people.actor import NotAllowed
from clinic.platform.registries import exports
from clinic.records.export import files_of
from clinic.records.kept import EXPORTED
from tests import people
from tests.house import FILLED, house
from tests.people import NOW
from tests.preventive.room import room

# reckoned anew from the record, or the post to a household
NO_RECORD = {"callback", "unasked", "askeditem", "reminderstop", "reminderitem", "answer"}


def test_every_row_of_a_patient_is_in_the_export():
    kept = {
        model._meta.model_name
        for model in apps.get_app_config("clinic").get_models()
        if not hasattr(model, "pgh_tracked_model")
        and any(getattr(field, "related_model", None) is Patient for field in model._meta.concrete_fields)
    }
    assert kept - NO_RECORD == kept & {model._meta.model_name for model in EXPORTED}


@pytest.mark.django_db
def test_a_manager_takes_all_of_one_patient_and_nothing_of_another(tmp_path):
    puppy = room()
    puppy.give()
    other = people.patient("Sorrel", of=people.owner("Ada Other", "ada@example.com"))
    double = people.patient("Tarn again", of=puppy.patient.owners.get())
    people.weigh(
        people.visit_here(double, clinician=puppy.people.clinician), "8.7", by=puppy.people.clinician
    )
    Patient.objects.filter(pk=double.pk).update(merged_into=puppy.patient)
    client = Client()
    client.force_login(puppy.people.manager)
    page = reverse("patient-export", args=[puppy.patient.pk])
    assert page in client.get(reverse("patient", args=[puppy.patient.pk])).content.decode()
    with ZipFile(BytesIO(client.get(page).content)) as archive:
        files = {name: archive.read(name).decode() for name in archive.namelist()}
    assert list(files) == [*(f"{name}.json" for name in exports.names()), "staff.json", "contents.txt"]
    record = json.loads(files["record.json"])
    animals = {row["id"]: row["name"] for row in record if row["row"] == "patient"}
    assert animals == {puppy.patient.pk: "Tarn", double.pk: "Tarn again"}
    assert [row["value"] for row in record if row["row"] == "measurement"] == ["8.400000", "8.700000"]
    (dose,) = json.loads(files["prevention.json"])
    assert (dose["lot"], dose["given_by_id"]) == ("QX4471", puppy.people.clinician.pk)
    assert "prevention.json: 1 rows (dose 1)" in files["contents.txt"]
    assert f"under the numbers {double.pk}." in files["contents.txt"]
    assert not any(other.name in text or "ada@example.com" in text for text in files.values())
    with pytest.raises(NotAllowed):
        files_of(puppy.patient, actor=puppy.actor("clinician"), now=NOW)

    def command(patient, by) -> str:
        out = StringIO()
        call_command("export_patient", str(patient), str(tmp_path / "out"), "--for", by.email, stdout=out)
        return out.getvalue()

    with pytest.raises(CommandError, match="export"):
        command(puppy.patient.pk, puppy.people.clinician)
    with pytest.raises(CommandError, match="no patient"):
        command(0, puppy.people.manager)
    assert command(double.pk, puppy.people.manager).startswith("8 files written")
    assert (tmp_path / "out" / "prevention.json").read_text() == files["prevention.json"]
    with pytest.raises(CommandError, match="not empty"):
        command(puppy.patient.pk, puppy.people.manager)


@pytest.mark.django_db
def test_what_stands_in_a_full_house_can_be_written():
    made = house()
    for name in FILLED:
        assert getattr(made.own, name)
    kinds = set()
    for patient in Patient.objects.all():
        files = files_of(patient, actor=made.people.actor("manager"), now=NOW)
        kinds |= {
            row["row"] for name in ("record", "prevention") for row in json.loads(files[f"{name}.json"])
        }
    assert {"owner", "visit", "problem", "planline", "testresult", "medicine", "letter"} <= kinds
    assert {"dose", "reaction", "certificate"} <= kinds
