"""How many messages there are, for whoever watches the program: counts of all districts, nothing of any."""

from collections.abc import Iterable

from django.db.models import Count

from schedule.notices.models import Notice


def notice_counts() -> Iterable[tuple[str, str, int]]:
    """By channel and state."""
    rows = Notice.objects.order_by("channel", "state").values_list("channel", "state")
    return rows.annotate(count=Count("pk"))
