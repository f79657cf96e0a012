"""A page for load balancers and health checks: says whether this process reaches its database."""

from django.contrib.auth.decorators import login_not_required
from django.db import OperationalError, connection
from django.http import HttpRequest, HttpResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe


@login_not_required
@never_cache
@require_safe
def healthz(request: HttpRequest) -> HttpResponse:
    """200 `ok`, or 503 when the database does not answer."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except OperationalError:
        return HttpResponse("database unreachable", status=503, content_type="text/plain")
    return HttpResponse("ok", content_type="text/plain")
