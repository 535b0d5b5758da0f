"""A change that is made only if the row is as its sender knew it (If-Match, RFC 9110, 13.1.1)."""

from collections.abc import Callable

from django.db import models, transaction

from accounts.errors import ApplicationError

CHANGED = "Somebody changed this since you read it. Read it again, and send your change with its new ETag."


def act_if_unchanged[T](*, row: models.Model, told: str, tag: Callable[[], str], act: Callable[[], T]) -> T:
    """Do it if the row's tag, read under a lock, is among those that were `told`, or any where that is ``*``.

    Raises `ApplicationError` (412) otherwise; of two changes of one reading the second is refused.
    """
    with transaction.atomic():
        type(row)._meta.base_manager.select_for_update().filter(pk=row.pk).first()
        wanted = {one.strip() for one in told.split(",")}
        if wanted != {"*"} and tag() not in wanted:
            raise ApplicationError(CHANGED, code="changed_meanwhile", status=412)
        return act()
