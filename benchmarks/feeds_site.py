"""The site with two bare views beside it, for benchmarks/feeds.py: constants of the feed's size and of none."""

import os
from pathlib import Path

from django.contrib.auth.decorators import login_not_required
from django.core.wsgi import get_wsgi_application
from django.http import HttpRequest, HttpResponse
from django.urls import path

application = get_wsgi_application()

from config.urls import urlpatterns as of_the_site  # noqa: E402 -- models can be imported only after the set-up

CONSTANT = Path(os.environ["FEED_CONSTANT"]).read_bytes() if "FEED_CONSTANT" in os.environ else b""


@login_not_required
def bare(request: HttpRequest) -> HttpResponse:
    """As many bytes as the feed has."""
    return HttpResponse(CONSTANT, content_type="text/calendar; charset=utf-8")


@login_not_required
def bare_empty(request: HttpRequest) -> HttpResponse:
    """No bytes: what a 304 costs at least."""
    return HttpResponse(status=304)


urlpatterns = [path("bare/", bare), path("bare-empty/", bare_empty), *of_the_site]
