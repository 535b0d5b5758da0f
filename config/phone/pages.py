"""What the browser itself asks for: the worker."""

import json

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.templatetags.static import static
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from config.phone.shell import SCRIPTS, static_text


@login_not_required
@never_cache
@require_safe
def worker(request: HttpRequest) -> HttpResponse:
    """The service worker, from the root so that it may answer for every page; it holds nothing of anybody."""
    shell = {"scripts": [static(name) for name in SCRIPTS]}
    text = f"const shell = {json.dumps(shell)};\n{static_text('worker.js')}"
    return HttpResponse(text, content_type="text/javascript; charset=utf-8")
