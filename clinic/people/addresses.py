"""The address a person signs in with, as django-allauth keeps it."""

from allauth.account.models import EmailAddress

from clinic.people.models import Staff


def confirm_address(staff: Staff) -> EmailAddress:
    """Theirs alone, first and confirmed: an invitation was read there, or a manager named it."""
    EmailAddress.objects.filter(user=staff).exclude(email__iexact=staff.email).delete()
    address, _ = EmailAddress.objects.update_or_create(
        user=staff, email=staff.email, defaults={"verified": True, "primary": True}
    )
    return address
