"""What a mail service says of a mail that it took and could not deliver, and what a mail carries so that the
service's report names it: the service's own number of a mail is not ours. Pure.

The events are those of django-anymail (`AnymailTrackingEvent`), which reads each service's own format.
"""

import json
from collections.abc import Mapping
from typing import Any
from uuid import UUID

from clinic.mail.reports import Report, number_of

MARK = "tailward"  # the name under which our number travels
# over for good: the other side refused it, or the service did not even try
ENDED = frozenset({"bounced", "rejected", "failed"})
# what says that the address does not work at all; "blocked", "spam" and the like do not
NOT_THERE = frozenset({"bounced", "invalid"})
# of two services, whose event django-anymail calls bounced like that of an address which is not there
PASSING = frozenset({"soft_bounce", "SoftBounce"})
LONGEST = 280


def headers_for(service: str, number: UUID) -> Mapping[str, str]:
    """What a mail carries that leaves through `service` (empty: an ordinary mail server)."""
    mark = json.dumps({MARK: str(number)})
    return {
        "": {},
        "brevo": {"X-Mailin-custom": mark},
        "mailgun": {"X-Mailgun-Variables": mark},
        "postmark": {f"X-PM-Metadata-{MARK}": str(number)},
    }[service]


def report_of_event(event: Any) -> Report | None:
    """None for what was delivered, delayed or looked at, and for what is no mail of ours."""
    if event.event_type not in ENDED:
        return None
    marked = event.metadata.get(MARK, "") if isinstance(event.metadata, Mapping) else ""
    number = number_of(marked) or number_of(event.message_id or "")
    if number is None:
        return None
    raw = event.esp_event if isinstance(event.esp_event, Mapping) else {}
    passing = {str(raw.get("event")), str(raw.get("Type"))} & PASSING
    why = event.mta_response or event.description or event.reject_reason or event.event_type
    lasting = event.reject_reason in NOT_THERE and not passing
    return Report(number, lasting, " ".join(str(why).split())[:LONGEST])
