"""Where a mail service tells by itself what came back: the own view of django-anymail, the extra `anymail`.

Only under the owners' address, which is reached from outside, and only where the settings name the service.
"""

from importlib import import_module
from typing import Any

from django.conf import settings
from django.urls import URLPattern, path
from django.utils import timezone

from clinic.mail.bounces import note_report
from clinic.mail.service import report_of_event

ADDRESS = "mail-came-back"


def urls() -> list[URLPattern]:
    """Its one address; none without a service."""
    service = settings.MAIL_SERVICE
    if not service:
        return []
    view = getattr(import_module(f"anymail.webhooks.{service}"), f"{service.capitalize()}TrackingWebhookView")
    tracking = import_module("anymail.signals").tracking
    tracking.connect(_told, dispatch_uid="clinic.mail.webhook")
    return [path(ADDRESS, view.as_view(), name=ADDRESS)]


def _told(event: Any, **_also: object) -> None:
    """django-anymail's signal: one thing that happened to one mail. What is known already changes nothing."""
    report = report_of_event(event)
    if report is not None:
        note_report(report, now=timezone.now())
