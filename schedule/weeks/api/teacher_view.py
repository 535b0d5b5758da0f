"""What the API of one teacher's minutes shares: who asks, whose, as of which day."""

import datetime as dt

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter
from rest_framework.permissions import IsAuthenticated
from rest_framework.views import APIView

from accounts.api import RolePermission, actor_of
from accounts.api_fields import DateField
from accounts.errors import ApplicationError
from accounts.fields import id_read
from accounts.models import Person
from accounts.services import NOT_THERE
from schedule.weeks.selectors.pages import district_today, teacher_for

TEACHER = OpenApiParameter("teacher", OpenApiTypes.INT, description="A teacher's id; oneself if left out.")


def day_parameter(name: str, words: str) -> OpenApiParameter:
    return OpenApiParameter(name, OpenApiTypes.DATE, description=words)


class MinutesView(APIView):
    """Signed in, with the role."""

    permission_classes = (IsAuthenticated, RolePermission)
    read_permission = write_permission = "week.change"

    def teacher(self, asked: object) -> Person:
        """The teacher asked for, or the first that the person may see. Raises `ApplicationError` (404)."""
        wanted = id_read(str(asked)) if asked else None
        found = teacher_for(actor_of(self.request), wanted) if wanted or not asked else None
        if found is None:
            raise ApplicationError(NOT_THERE, code="not_found", status=404)
        return found

    def day(self, name: str) -> dt.date | None:
        """A date in the query. Raises `ValidationError` for what isn't a date."""
        text = self.request.query_params.get(name)
        field = DateField()
        return field.run_validation(text) if text else None

    @property
    def today(self) -> dt.date:
        """Today where the district is."""
        return district_today(actor_of(self.request))
