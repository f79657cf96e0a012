"""A secret key for an installation that was given none: made once, kept where only its user can read it."""

import os
import secrets
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured


def local_secret(var_dir: Path) -> str:
    """The key in `var_dir/secret-key`, made on first use."""
    path = var_dir / "secret-key"
    try:
        var_dir.mkdir(parents=True, exist_ok=True)
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return _read(path)
    except OSError as error:
        raise ImproperlyConfigured(f"SECRET_KEY is not set and {path} cannot be written.") from error
    with os.fdopen(handle, "w") as stream:
        key = secrets.token_urlsafe(48)
        stream.write(key)
    return key


def _read(path: Path) -> str:
    try:
        key = path.read_text().strip()
    except OSError as error:
        raise ImproperlyConfigured(f"SECRET_KEY is not set and {path} cannot be read.") from error
    if len(key) < 50:
        raise ImproperlyConfigured(
            f"{path} does not hold a whole key: delete it and everybody signs in again."
        )
    return key
