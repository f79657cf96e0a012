"""The clinic's own details."""

from clinic.platform.models import ClinicDetails


def clinic_details() -> ClinicDetails:
    """The one row. Raises ClinicDetails.DoesNotExist before the practice was set up."""
    return ClinicDetails.objects.get(pk=1)


def clinic_name() -> str:
    """The name in the frame of every page; empty before the practice was set up."""
    return ClinicDetails.objects.filter(pk=1).values_list("name", flat=True).first() or ""
