"""A certificate as it is printed, from what was frozen at issue and the protocol of that day."""

from dataclasses import dataclass

from django.conf import settings
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone

from preventive.certificate_code import in_groups
from preventive.models import Certificate
from preventive.protocol import Protocol
from preventive.wording import day

GROUPS = (
    ("The animal", ("animal_name", "species", "breed", "colours", "sex", "neutered", "age", "size_band")),
    ("Known by", ("microchip", "tag_number", "control_licence")),
    ("The owner", ("owner_name", "owner_phone", "owner_address")),
    (
        "The vaccine",
        ("product_name", "manufacturer", "licensed_duration", "serial", "dose_kind", "vaccinated_on"),
    ),
    ("The veterinarian", ("veterinarian", "licence_number", "vet_address", "signature")),
)


@dataclass(frozen=True)
class Sheet:
    """Plain values for the page and the paper."""

    name: str
    code: str
    check_at: str
    due_by: str
    valid_from: str
    product_due: str
    groups: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    place: str
    issued: str
    replaces: str


def sheet_of(certificate: Certificate) -> Sheet:
    protocol = Protocol(certificate.protocol.body)
    fields, values = protocol.rules.certificate, certificate.values
    label_due = certificate.product_due
    return Sheet(
        name=str(certificate),
        code=in_groups(certificate.code),
        check_at=f"{settings.PUBLIC_URL}{reverse('certificate-check')}" if settings.PUBLIC_URL else "",
        due_by=values["due_by"],
        valid_from=day(certificate.valid_from),
        product_due=day(label_due) if label_due != certificate.due_by else "",
        groups=tuple(
            (
                title,
                tuple((fields[code].label, values.get(code, "")) for code in codes if code in fields),
            )
            for title, codes in GROUPS
        ),
        place=protocol.jurisdiction.label,
        issued=day(timezone.localdate(certificate.entered_at)),
        replaces=str(certificate.replaces) if certificate.replaces else "",
    )


def certificate_html(certificate: Certificate) -> str:
    """The whole page for the renderer."""
    return render_to_string(
        "preventive/certificate_paper.html", {"sheet": sheet_of(certificate), "values": certificate.values}
    )
