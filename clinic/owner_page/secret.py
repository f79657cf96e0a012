"""The secret of an owner's link: 192 bits that nobody guesses, of which the database keeps only a hash.

It is reckoned from the link's own number with the installation's key, so that every attempt of a mail carries
the same address, and whoever reads the database alone cannot make one.
"""

import base64
import re
from hashlib import sha256
from uuid import UUID

from django.utils.crypto import salted_hmac

BYTES = 24  # 192 bits
SHAPE = re.compile(r"[A-Za-z0-9_-]{32}")


def secret_of(number: UUID) -> str:
    """32 characters that may stand in an address as they are."""
    digest = salted_hmac("clinic.owner_page.secret", number.bytes, algorithm="sha256").digest()
    return base64.urlsafe_b64encode(digest[:BYTES]).decode()


def hash_of(secret: str) -> str:
    """What is kept of it, and found by."""
    return sha256(secret.encode()).hexdigest()
