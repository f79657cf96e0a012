"""System checks of ours, run by `manage.py check --deploy`."""

from collections.abc import Sequence
from typing import Any

from django.apps import AppConfig
from django.conf import settings
from django.core.checks import CheckMessage, Tags, Warning, register


@register(Tags.security, deploy=True)
def two_roles(app_configs: Sequence[AppConfig] | None, **kwargs: Any) -> list[CheckMessage]:
    """Web and worker must not log in as the role that owns the tables: it could switch the freeze off."""
    owner = settings.DATABASE_OWNER
    if owner and owner["USER"] != settings.DATABASES["default"]["USER"]:
        return []
    return [
        Warning(
            "Web and worker log in as the role that owns the tables.",
            hint="Give DATABASE_OWNER_URL an owner of its own and DATABASE_URL a role that owns nothing.",
            id="clinic.W001",
        )
    ]


@register(Tags.security, deploy=True)
def mail_leaves(app_configs: Sequence[AppConfig] | None, **kwargs: Any) -> list[CheckMessage]:
    """Without a mail server letters stay in the local outbox."""
    if "OutboxBackend" not in settings.EMAIL_BACKEND:
        return []
    return [
        Warning(
            "Mail is kept in the local outbox and reaches nobody.", hint="Set EMAIL_URL.", id="clinic.W002"
        )
    ]
