"""The manual's pages: open to anyone, the same for everyone."""

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from config.manual.chapters import chapters, whole


@login_not_required
@require_safe
def manual(request: HttpRequest) -> HttpResponse:
    """The contents: every chapter with its sections."""
    return render(request, "manual/contents.html", {"chapters": chapters()})


@login_not_required
@require_safe
def manual_whole(request: HttpRequest) -> HttpResponse:
    """All chapters on one page, to be printed or searched."""
    return render(request, "manual/whole.html", {"chapters": whole(), "crumbs": _crumbs()})


@login_not_required
@require_safe
def manual_chapter(request: HttpRequest, name: str) -> HttpResponse:
    """One chapter, with its sections above and its neighbors below."""
    found = chapters()
    number = next((number for number, one in enumerate(found) if one.name == name), None)
    if number is None:
        raise Http404
    context = {
        "chapter": found[number],
        "before": found[number - 1] if number else None,
        "after": found[number + 1] if number + 1 < len(found) else None,
        "crumbs": _crumbs(),
    }
    return render(request, "manual/chapter.html", context)


def _crumbs() -> list[tuple[str, str]]:
    return [("Manual", reverse("manual"))]
