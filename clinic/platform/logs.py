"""Where log lines go: to stderr, one line each, with the id of the request."""

from typing import Any


def logging_config(level: str) -> dict[str, Any]:
    """`LOGGING` for the lowest `level` that is written."""
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "filters": {"request": {"()": "clinic.platform.requests.AddRequestId"}},
        "formatters": {
            "line": {"format": "{asctime} {levelname} {name} [{request_id}] {message}", "style": "{"}
        },
        "handlers": {
            "stderr": {
                "class": "logging.StreamHandler",
                "formatter": "line",
                "filters": ["request"],
            }
        },
        "root": {"handlers": ["stderr"], "level": level},
        "loggers": {
            # Django's own handlers would write every line twice
            "django": {"handlers": [], "propagate": True},
            "django.server": {"handlers": [], "propagate": True},
            # every step of every job and of every page of a PDF, at INFO
            "procrastinate": {"level": "WARNING"},
            "weasyprint.progress": {"level": "WARNING"},
            "fontTools": {"level": "WARNING"},
        },
    }
