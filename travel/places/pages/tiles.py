"""Pictures of the district's own roads for the ground of a map, and the permission to load others' pictures."""

from typing import Any

from django.conf import settings
from django.contrib.auth.decorators import permission_required
from django.http import Http404, HttpRequest, HttpResponse
from django.utils.cache import patch_cache_control
from django.views.decorators.csp import csp_override
from django.views.decorators.http import require_safe

from accounts.pages import person_of
from travel.places.selectors import Ground, road_tile_picture
from travel.roads.base import RoadError

A_DAY = 86_400


@require_safe
@permission_required("week.view", raise_exception=True)
def road_tile(request: HttpRequest, zoom: int, column: int, row: int) -> HttpResponse:
    """The roads of one tile as SVG; 404 where the district has prepared none or they can't be used."""
    district = person_of(request).district
    try:
        picture = road_tile_picture(district, zoom, column, row) if district is not None else None
    except RoadError as error:
        raise Http404 from error
    if picture is None:
        raise Http404
    answer = HttpResponse(picture, content_type="image/svg+xml")
    patch_cache_control(answer, private=True, max_age=A_DAY)
    return answer


def allow_tiles(request: HttpRequest, answer: HttpResponse, ground: Ground) -> HttpResponse:
    """Let this page, and no other, load pictures from the district's tile host.

    Tile hosts want to know which site asks and refuse those that hide it, so the page says its host's name there,
    without path or query.
    """
    if not ground.host:
        return answer
    answer.headers["Referrer-Policy"] = "strict-origin-when-cross-origin"
    policy: dict[str, Any] = dict(settings.SECURE_CSP)
    policy["img-src"] = [*policy["img-src"], ground.host]
    return csp_override(policy)(lambda _: answer)(request)
