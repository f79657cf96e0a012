"""Everything recorded for one patient, as files for whoever takes it elsewhere."""

import json
from collections import Counter
from collections.abc import Iterator
from datetime import datetime
from io import BytesIO
from pathlib import Path
from typing import Any
from zipfile import ZIP_DEFLATED, ZipFile

from django.core.serializers.json import DjangoJSONEncoder
from django.utils import timezone

from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.models import Staff
from clinic.people.rights import Right
from clinic.platform.registries import exports

CONTENTS = "contents.txt"


class NotEmpty(Exception):
    """The folder holds something: an older export would be taken for a part of this one."""


def files_of(patient: Patient, *, actor: Actor, now: datetime) -> dict[str, bytes]:
    """By name: one JSON list of rows for each entry of the registry, the staff, and last what is in them.

    What was recorded under numbers that were merged comes with it. Raises NotAllowed.
    """
    actor.require(Right.EXPORT)
    while patient.merged_into:
        patient = patient.merged_into
    own = list(_with_merged(patient))
    rooms = {entry.name: [row for each in own for row in entry.rows(each)] for entry in exports}
    staff = list(Staff.objects.order_by("pk").values("pk", "full_name", "licence_number", "licence_place"))
    files = {f"{name}.json": _json(rows) for name, rows in {**rooms, "staff": staff}.items()}
    files[CONTENTS] = _contents(patient, own, rooms, actor=actor, now=now).encode()
    return files


def write(files: dict[str, bytes], folder: Path) -> None:
    """Into a folder that is new or empty, readable by nobody else. Raises NotEmpty, OSError."""
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    if any(folder.iterdir()):
        raise NotEmpty(folder)
    for name, content in files.items():
        path = folder / name
        path.touch(mode=0o600, exist_ok=False)
        path.write_bytes(content)


def zipped(files: dict[str, bytes]) -> bytes:
    out = BytesIO()
    with ZipFile(out, "w", ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return out.getvalue()


def _with_merged(patient: Patient) -> Iterator[Patient]:
    yield patient
    for each in Patient.objects.filter(merged_into=patient).order_by("pk"):
        yield from _with_merged(each)


def _json(rows: object) -> bytes:
    return json.dumps(rows, cls=DjangoJSONEncoder, ensure_ascii=False, indent=1).encode() + b"\n"


def _contents(
    patient: Patient,
    own: list[Patient],
    rooms: dict[str, list[dict[str, Any]]],
    *,
    actor: Actor,
    now: datetime,
) -> str:
    born = f"born {patient.birth_date}" if patient.birth_date else "birth date unknown"
    at = timezone.localtime(now)
    lines = [
        f"{patient.name}, {patient.species}, {born}: patient {patient.pk}",
        f"Written on {at:%Y-%m-%d} at {at:%H:%M} for {actor.staff.full_name}.",
        "",
    ]
    if len(own) > 1:
        merged = ", ".join(str(each.pk) for each in own[1:])
        lines += [f"With what was recorded for it under the numbers {merged}.", ""]
    for name, rows in rooms.items():
        kinds = Counter(row.get("row", "") for row in rows)
        parts = ", ".join(f"{kind} {count}" for kind, count in kinds.items() if kind)
        lines.append(f"{name}.json: {len(rows)} rows{f' ({parts})' if parts else ''}")
    lines += [
        "staff.json: who the numbers in fields such as entered_by_id are",
        "",
        "Rows with a struck_at were entered by mistake, and are no part of what is known of the patient.",
        "Photographs and papers are named by their files; those, and the letters as PDF, are not in here.",
    ]
    return "\n".join(lines) + "\n"
