"""How often one network address may ask: counted in the database, one statement each, so that every process
of the installation counts in the same place."""

import ipaddress
from datetime import datetime, timedelta

from allauth.core.internal.httpkit import get_client_ip
from django.db import connection
from django.http import HttpRequest
from django.utils.crypto import salted_hmac

from clinic.owner_page.models import Knock

WHILE = timedelta(minutes=10)
MOST_ASKED = 300  # a letter with its photographs is a dozen
MOST_IN_VAIN = 20
KEPT = timedelta(hours=1)
_COUNT = """
INSERT INTO clinic_knock (who, since, asked, in_vain) VALUES (%s, %s, 1, 0)
ON CONFLICT (who, since) DO UPDATE SET asked = clinic_knock.asked + 1
RETURNING asked, in_vain
"""


def whole_network(address: str) -> str:
    """An IPv4 address as it is; of IPv6 the network of one subscriber (the first 64 bits)."""
    try:
        parsed = ipaddress.ip_address(address)
    except ValueError:
        return address
    if isinstance(parsed, ipaddress.IPv6Address) and parsed.ipv4_mapped:
        return str(parsed.ipv4_mapped)
    if isinstance(parsed, ipaddress.IPv6Address):
        return str(ipaddress.ip_network((int(parsed) >> 64 << 64, 64)))
    return str(parsed)


def who_of(request: HttpRequest, now: datetime) -> str:
    """Whoever asks, as a hash that is another one tomorrow."""
    address = whole_network(get_client_ip(request) or "")
    return salted_hmac("clinic.owner_page.knock", f"{now:%Y-%m-%d} {address}", algorithm="sha256").hexdigest()


def may_ask(who: str, now: datetime) -> bool:
    """Counts this request, and says whether it is answered."""
    with connection.cursor() as cursor:
        cursor.execute(_COUNT, [who, _since(now)])
        asked, in_vain = cursor.fetchone()
    return bool(asked <= MOST_ASKED and in_vain < MOST_IN_VAIN)


def asked_in_vain(who: str, now: datetime) -> None:
    """What was asked for does not open."""
    with connection.cursor() as cursor:
        cursor.execute(
            "UPDATE clinic_knock SET in_vain = in_vain + 1 WHERE who = %s AND since = %s", [who, _since(now)]
        )


def forget(now: datetime) -> int:
    """Delete the counts that are over. Returns how many."""
    return Knock.objects.filter(since__lt=now - KEPT).delete()[0]


def _since(now: datetime) -> datetime:
    return datetime.fromtimestamp(
        now.timestamp() // WHILE.total_seconds() * WHILE.total_seconds(), now.tzinfo
    )
