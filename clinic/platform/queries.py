"""The clinic's own details."""

from django.http import HttpRequest

from clinic.platform.asked import once
from clinic.platform.models import ClinicDetails


@once
def clinic_details() -> ClinicDetails:
    """The one row. Raises ClinicDetails.DoesNotExist before the practice was set up."""
    return ClinicDetails.objects.get(pk=1)


def details_for(request: HttpRequest) -> ClinicDetails:
    """The same, read once a request: the frame of the page takes the clinic's name from it."""
    kept: ClinicDetails | None = request.__dict__.get(_KEPT)
    if kept is None:
        kept = request.__dict__[_KEPT] = clinic_details()
    return kept


def name_for(request: HttpRequest) -> str:
    """The clinic's name for a page, asked once; no query where the page read the details itself."""
    kept: ClinicDetails | None = request.__dict__.get(_KEPT)
    if kept is not None:
        return kept.name
    if _NAME not in request.__dict__:
        request.__dict__[_NAME] = clinic_name()
    name: str = request.__dict__[_NAME]
    return name


_KEPT, _NAME = "clinic_details", "clinic_name"


def clinic_name() -> str:
    """The name in the frame of every page; empty before the practice was set up."""
    return ClinicDetails.objects.filter(pk=1).values_list("name", flat=True).first() or ""
