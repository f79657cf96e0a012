"""Work as the role that owns the tables: what the application role may not do, it cannot do by mistake."""

from collections.abc import Iterator
from contextlib import contextmanager

from django.conf import settings
from django.db import DEFAULT_DB_ALIAS, connections


@contextmanager
def as_owner() -> Iterator[None]:
    """The same database as the owner role (DATABASE_OWNER_URL), without a page's time limits.

    Where only one role is named, that one. Not inside a transaction: the connection is another one.
    """
    owner = settings.DATABASE_OWNER
    if owner is None:
        yield
        return
    connection = connections[DEFAULT_DB_ALIAS]
    as_application = dict(connection.settings_dict)
    connection.close()
    connection.settings_dict.update({**owner, "NAME": as_application["NAME"], "OPTIONS": {}})
    try:
        yield
    finally:
        connection.close()
        connection.settings_dict.update(as_application)
