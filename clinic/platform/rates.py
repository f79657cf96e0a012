"""How often one network address may ask for what anybody may ask: counted in the database, one statement
each, so that every process of the installation counts in the same place."""

import ipaddress
from dataclasses import dataclass
from datetime import datetime, timedelta

from allauth.core.internal.httpkit import get_client_ip
from django.db import connection
from django.http import HttpRequest
from django.utils.crypto import salted_hmac

from clinic.platform.models import Knock

KEPT = timedelta(hours=1)
_COUNT = """
INSERT INTO clinic_knock (what, who, since, asked, in_vain) VALUES (%s, %s, %s, 1, 0)
ON CONFLICT (what, who, since) DO UPDATE SET asked = clinic_knock.asked + 1
RETURNING asked, in_vain
"""


@dataclass(frozen=True)
class Limit:
    """`what` (20 signs at most) one address may ask `most` times in a window, and `in_vain` times of those
    for something that is not there (None: nobody counts those)."""

    what: str
    most: int
    window: timedelta = timedelta(minutes=10)
    in_vain: int | None = None

    def since(self, now: datetime) -> datetime:
        """When the window began that `now` (aware) is in. At most `KEPT` before."""
        length = self.window.total_seconds()
        return datetime.fromtimestamp(now.timestamp() // length * length, now.tzinfo)


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
    return salted_hmac("clinic.platform.knock", f"{now:%Y-%m-%d} {address}", algorithm="sha256").hexdigest()


def may_ask(limit: Limit, who: str, now: datetime) -> bool:
    """Counts this time, and says whether it is answered."""
    with connection.cursor() as cursor:
        cursor.execute(_COUNT, [limit.what, who, limit.since(now)])
        asked, in_vain = cursor.fetchone()
    return bool(asked <= limit.most and (limit.in_vain is None or in_vain < limit.in_vain))


def asked_in_vain(limit: Limit, who: str, now: datetime) -> None:
    """What was asked for is not there."""
    with connection.cursor() as cursor:
        cursor.execute(
            "UPDATE clinic_knock SET in_vain = in_vain + 1 WHERE what = %s AND who = %s AND since = %s",
            [limit.what, who, limit.since(now)],
        )


def forget(now: datetime) -> int:
    """Delete the counts that are over. Returns how many."""
    return Knock.objects.filter(since__lt=now - KEPT).delete()[0]
