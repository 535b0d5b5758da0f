"""Whether the service answers."""

from django.contrib.auth.decorators import login_not_required
from django.db import OperationalError, connection
from django.http import HttpRequest, HttpResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe


@login_not_required
@never_cache
@require_safe
def health(request: HttpRequest) -> HttpResponse:
    """200 if the database answers a query, else 503; no details, since anyone may ask."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except OperationalError:
        return HttpResponse("database does not answer\n", content_type="text/plain", status=503)
    return HttpResponse("ok\n", content_type="text/plain")
