"""What the API of the month and of the map share: exact decimals, and whose trips are asked for."""

from decimal import Decimal
from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework_dataclasses.serializers import DataclassSerializer
from rest_framework_dataclasses.types import Dataclass

from accounts.api import BodySerializer, actor_of
from accounts.api_fields import IdField
from accounts.errors import ApplicationError
from accounts.models import Person
from schedule.trips.services.shared import OWN
from travel.mileage.selectors import NO_TEACHER, mileage_teacher

CHANGE = "mileage.view"


class ExactDecimalField(serializers.DecimalField):
    """Decimal as it is: the library's own field for dataclasses would round a rate of 0.725 to cents."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"max_digits": None, "decimal_places": None, **kwargs})


class ExactSerializer[T: Dataclass](DataclassSerializer[T]):
    """What selectors answer, with money and miles as they are."""

    serializer_field_mapping = {**DataclassSerializer.serializer_field_mapping, Decimal: ExactDecimalField}


class TeacherQuery(BodySerializer):
    """Whose."""

    teacher = IdField(required=False)


def asked_teacher(request: Request, teacher_id: int | None) -> Person:
    person = actor_of(request)
    found = mileage_teacher(person, person.pk if teacher_id is None and person.has_perm(OWN) else teacher_id)
    if found is None:
        raise ApplicationError(NO_TEACHER, code="not_found", status=404)
    return found


def checked(body: type[serializers.Serializer[Any]], request: Request, data: Any) -> dict[str, Any]:
    asked = body(data=data, context={"request": request})
    asked.is_valid(raise_exception=True)
    return dict(asked.validated_data)
