"""A certificate as it is printed, from what was frozen at issue and the protocol of that day."""

from dataclasses import dataclass

from django.conf import settings
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone

from clinic.letters.spelling import spelled, variant_of
from clinic.platform.queries import clinic_details
from preventive.certificate_code import in_groups
from preventive.models import Certificate
from preventive.protocol import Protocol
from preventive.rules import CertificateField
from preventive.wording import day

GROUPS = (
    ("The animal", ("animal_name", "species", "breed", "colours", "sex", "neutered", "age", "size_band")),
    ("Known by", ("microchip", "tag_number", "control_licence")),
    ("The owner", ("owner_name", "owner_phone", "owner_address")),
    (
        "The vaccine",
        ("product_name", "manufacturer", "licensed_duration", "serial", "dose_kind", "vaccinated_on"),
    ),
    ("The veterinarian", ("given_by", "veterinarian", "licence_number", "vet_address", "signature")),
)
GROUPS_OF_ALL = (
    ("The animal", ("animal_name", "species", "breed", "colours", "sex", "neutered", "age", "microchip")),
    ("The owner", ("owner_name", "owner_address")),
    ("The veterinarian", ("veterinarian", "licence_number", "vet_address", "signature")),
)
HEADS = ("Day", "Against", "Vaccine, maker", "Lot, expiry", "How and where", "Given by")
HEADS_NEXT = ("Against", "Last given", "Due again")


@dataclass(frozen=True)
class Sheet:
    """Plain values for the page and the paper. The last of `groups`: who answers for it."""

    name: str
    title: str
    house: str
    house_at: str
    of_rabies: bool
    code: str
    check_at: str
    due_by: str
    valid_from: str
    product_due: str
    groups: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    place: str
    issued: str
    replaces: str
    heads: tuple[str, ...] = ()
    doses: tuple[tuple[str, ...], ...] = ()
    heads_next: tuple[str, ...] = ()
    following: tuple[tuple[str, ...], ...] = ()


def sheet_of(certificate: Certificate) -> Sheet:
    protocol = Protocol(certificate.protocol.body)
    of_rabies, values = certificate.kind == Certificate.Kind.RABIES, certificate.values
    fields = protocol.rules.certificate if of_rabies else protocol.rules.vaccination
    spelling = variant_of(clinic_details().country)

    def label(field: CertificateField) -> str:
        return spelled(field.label, spelling)

    label_due = certificate.product_due
    groups = tuple(
        (title, tuple((label(fields[code]), values.get(code, "")) for code in codes if code in fields))
        for title, codes in (GROUPS if of_rabies else GROUPS_OF_ALL)
    )
    house, _, house_at = str(values.get("vet_address", "")).partition(", ")
    return Sheet(
        name=str(certificate),
        title=certificate.get_kind_display().capitalize(),
        house=house,
        house_at=house_at,
        of_rabies=of_rabies,
        code=in_groups(certificate.code),
        check_at=f"{settings.PUBLIC_URL}{reverse('certificate-check')}" if settings.PUBLIC_URL else "",
        due_by=values.get("due_by") or (day(certificate.due_by) if certificate.due_by else ""),
        valid_from=day(certificate.valid_from),
        product_due=day(label_due) if label_due and label_due != certificate.due_by else "",
        groups=groups,
        place=protocol.jurisdiction.label,
        issued=day(timezone.localdate(certificate.entered_at)),
        replaces=str(certificate.replaces) if certificate.replaces else "",
        heads=HEADS,
        doses=tuple(tuple(row) for row in values.get("doses", ())),
        heads_next=HEADS_NEXT,
        following=tuple(tuple(row) for row in values.get("next", ())),
    )


def certificate_html(certificate: Certificate) -> str:
    """The whole page for the renderer."""
    return render_to_string(
        "preventive/certificate_paper.html", {"sheet": sheet_of(certificate), "values": certificate.values}
    )
