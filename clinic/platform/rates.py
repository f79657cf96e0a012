"""How often one address may do something that anybody may do: counted in the shared cache, by the window."""

from allauth.account.adapter import get_adapter
from django.core.cache import cache
from django.http import HttpRequest
from django.utils import timezone


def too_often(request: HttpRequest, what: str, *, most: int, seconds: int) -> bool:
    """Counts this time, and says whether it is more than `most` in the window of so many seconds.

    All processes count together. Two at the same moment may be counted as one: it slows down, it is no lock.
    """
    window = int(timezone.now().timestamp()) // seconds
    key = f"rate:{what}:{get_adapter(request).get_client_ip(request)}:{window}"
    if cache.add(key, 1, timeout=seconds * 2):
        return most < 1
    try:
        return bool(cache.incr(key) > most)
    except ValueError:  # it ran out between the two
        return False
