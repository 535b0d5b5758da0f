"""What every part of the API shares: who asks, what they may see and do, and writing through services.

A view reads through `visible_to`, so that what a person may not see is a 404 like what isn't there. Writes go to
the same services as the pages, which check the role and the values themselves; serializers give the shape only.
"""

import hashlib
import re
from collections.abc import Callable, Mapping
from copy import copy
from typing import Any, ClassVar, cast

from django.core.exceptions import ImproperlyConfigured, ValidationError
from django.db.models import DateField as ModelDateField
from django.db.models import Model, QuerySet
from django_filters.rest_framework import FilterSet
from drf_spectacular.utils import extend_schema
from rest_framework import mixins, permissions, serializers, viewsets
from rest_framework.decorators import action
from rest_framework.exceptions import NotFound
from rest_framework.pagination import Cursor, CursorPagination
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.api_fields import DateField, IdField, id_filters
from accounts.errors import ApplicationError
from accounts.guards import ends_foreseen
from accounts.idempotency.shared import is_tapped, shared
from accounts.models import Person, ScopedQuerySet
from accounts.selectors import today_of
from accounts.services import NOT_YOUR_ROLE, act_if_unchanged

NO_SUCH_FIELD = "There is no such field here. Check its name."
BY_CURSOR = "Lists have no numbered pages: follow `next`."


def actor_of(request: Request) -> Person:
    """The person who asks; the permissions have let nobody else through."""
    if not isinstance(request.user, Person):
        message = "A view without IsAuthenticated asked for its person"
        raise ImproperlyConfigured(message)
    return request.user


def wants_little(request: Request) -> bool:
    """Whether the sender has no use for what an answer would hold (RFC 7240, ``Prefer: return=minimal``)."""
    told = re.split("[,;]", request.headers.get("Prefer", "").lower())
    return "return=minimal" in {one.strip() for one in told}


def little(status: int, made: int | None = None) -> Response:
    """The answer for who wants little: that it was done, the id of what it made, and nothing more."""
    told = None if made is None else {"id": made}
    return Response(told, status=status, headers={"Preference-Applied": "return=minimal"})


def visible_rows(model: type[Model], viewer: Any, *, to_change: bool = False) -> QuerySet[Any]:
    """Rows of a model that the viewer may see, or change; people are those of the viewer's district."""
    rows = model._meta.default_manager.all()  # type: ignore[union-attr]  # every model has one
    if isinstance(rows, ScopedQuerySet):
        return rows.changeable_by(viewer) if to_change else rows.visible_to(viewer)
    if model is Person and isinstance(viewer, Person) and viewer.district_id is not None:
        return rows.filter(district_id=viewer.district_id, is_active=True)
    return rows.none()


class RolePermission(permissions.BasePermission):
    """The view's `read_permission` for reading and its `write_permission` for the rest (accounts.permissions)."""

    message = NOT_YOUR_ROLE
    code = "not_for_your_role"

    def has_permission(self, request: Request, view: APIView) -> bool:
        """Whether the person's role may do this at all; which rows is the querysets' part."""
        kind = "read_permission" if request.method in permissions.SAFE_METHODS else "write_permission"
        return bool(request.user and request.user.has_perm(getattr(view, kind)))


class VisibleRelatedField(serializers.PrimaryKeyRelatedField[Any]):
    """Another row by its id, among those that the person may change: others look as if they weren't there."""

    def __init__(self, *, along: tuple[str, ...] = (), seen: bool = False, **options: Any) -> None:
        """`along`: what of other rows is read with it (`select_related`).

        `seen`: among those that the person may read; whether something is done with it the service says.
        """
        super().__init__(**{"pk_field": IdField(), **options})
        self.along, self.seen = along, seen

    def get_queryset(self) -> QuerySet[Any]:
        """Narrow the choice to the person who asks."""
        rows = cast("QuerySet[Any]", super().get_queryset())
        request = self.context.get("request")
        found = visible_rows(rows.model, request.user if request is not None else None, to_change=not self.seen)
        return found.select_related(*self.along) if self.along else found

    def to_internal_value(self, data: Any) -> Any:
        """The row; looked for once where several sendings name it."""
        read, request = super().to_internal_value, self.context.get("request")
        viewer = request.user if request is not None else None
        model = cast("QuerySet[Any]", super().get_queryset()).model
        if not isinstance(viewer, Person) or is_tapped(model):
            return read(data)
        mates = viewer.mates if self.seen else ()
        key = ("related", model, self.along, self.seen, mates, viewer.pk, today_of(viewer), repr(data))
        return copy(shared(key, lambda: read(data), at_once=True))


class RefusesUnknownFields:
    """Mixed into a serializer: a misspelled field is an error and not silently left out."""

    def to_internal_value(self, data: Any) -> Any:
        """Name every field that there isn't; those that can only be read may be sent back."""
        fields: Mapping[str, Any] = self.fields  # type: ignore[attr-defined]  # the serializer's own
        if isinstance(data, Mapping):
            unknown = {str(name): [NO_SUCH_FIELD] for name in data if name not in fields}
            if unknown:
                raise serializers.ValidationError(unknown)
        return super().to_internal_value(data)  # type: ignore[misc]  # the serializer's own


class BodySerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """Base of what a query or an action takes that saves no row of its own."""


class RecordSerializer[M: Model](RefusesUnknownFields, serializers.ModelSerializer[M]):
    """The shape of a row. Rules that span fields or rows are the services': no validators here."""

    serializer_related_field = VisibleRelatedField
    serializer_field_mapping = {**serializers.ModelSerializer.serializer_field_mapping, ModelDateField: DateField}

    def get_validators(self) -> list[Any]:
        """None: the service validates the whole row, in words that name a remedy."""
        return []


class StablePages(CursorPagination):
    """Pages of a list by the last row that was told: what is added or deleted in between moves no other row.

    Rows come by their keys, the only order that nobody changes: the newest first where the model's own order begins
    with the newest, else the oldest.
    """

    page_size = 100
    cursor_query_description = "Which page: taken from `next` or `previous`, not made up."
    invalid_cursor_message = "This page isn't there. Begin with the list's first page."

    def get_ordering(self, request: Request, queryset: QuerySet[Any], view: APIView) -> tuple[str, ...]:
        """By the key alone."""
        self._model = queryset.model
        first = next(iter(queryset.query.order_by or queryset.model._meta.ordering), "")
        return ("-pk",) if str(first).startswith("-") else ("pk",)

    def paginate_queryset(  # type: ignore[override]  # lists here are querysets
        self, queryset: QuerySet[Any], request: Request, view: APIView | None = None
    ) -> list[Any] | None:
        """Count, then cut; a numbered page is refused, since it would be the first one again and again."""
        if "page" in request.query_params:
            raise ApplicationError(BY_CURSOR, code="by_cursor", status=400)
        self.count = queryset.order_by().count()
        return super().paginate_queryset(queryset, request, view)

    def decode_cursor(self, request: Request) -> Cursor | None:
        """Refuse a position that is no key of such rows."""
        found = super().decode_cursor(request)
        if found is not None and found.position is not None:
            try:
                self._model._meta.pk.clean(found.position, None)
            except ValidationError as error:
                raise NotFound(self.invalid_cursor_message) from error
        return found

    def get_paginated_response(self, data: Any) -> Response:
        """With the number of all rows as it was for this page."""
        answer = super().get_paginated_response(data)
        answer.data = {"count": self.count, **answer.data}
        return answer

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        """The same, described."""
        found = super().get_paginated_response_schema(schema)
        found["properties"] = {"count": {"type": "integer", "example": 123}, **found["properties"]}
        found["required"] = ["count", *found["required"]]
        return found


class ScopedViewSet[M: Model](viewsets.GenericViewSet[M]):
    """Rows that the person may see: those of the serializer's model.

    A request that changes something finds what the person may change.
    `filters`: ids that a query may ask for, each with the path that it looks along.
    """

    model: ClassVar[type[Model]]
    filters: ClassVar[Mapping[str, str]] = {}
    filterset_class: ClassVar[type[FilterSet]]
    permission_classes = (permissions.IsAuthenticated, RolePermission)
    read_permission: ClassVar[str]
    write_permission: ClassVar[str]
    lookup_value_converter = "id"
    prefetch: ClassVar[tuple[str, ...]] = ()
    pagination_class = StablePages

    def __init_subclass__(cls, **options: Any) -> None:
        """Take the model from the serializer, and make the filter set that `filters` asks for."""
        super().__init_subclass__(**options)
        if "serializer_class" in cls.__dict__:
            cls.model = cls.serializer_class.Meta.model  # type: ignore[union-attr]  # a RecordSerializer's
        if cls.filters:
            cls.filterset_class = id_filters(f"{cls.model.__name__}Filters", **cls.filters)

    def get_queryset(self) -> QuerySet[M]:
        """What the person may see or change, in the model's own order."""
        to_change = self.request.method not in permissions.SAFE_METHODS
        rows = visible_rows(self.model, self.request.user, to_change=to_change)
        rows = rows if rows.ordered else rows.order_by("pk")
        return rows.prefetch_related(*self.prefetch)


class ReadViewSet[M: Model](mixins.ListModelMixin, mixins.RetrieveModelMixin, ScopedViewSet[M]):
    """A list, and each row of it."""

    http_method_names = ["get", "head", "options"]


class RecordViewSet[M: Model](
    mixins.CreateModelMixin,
    mixins.ListModelMixin,
    mixins.RetrieveModelMixin,
    mixins.UpdateModelMixin,
    mixins.DestroyModelMixin,
    ScopedViewSet[M],
):
    """Rows that are kept by a pair of services; without a `delete_service` they can't be deleted.

    `parents` names the relations that a new row must have before its service sees it.
    """

    http_method_names = ["get", "post", "patch", "head", "options"]
    save_service: ClassVar[Callable[..., Any]]
    delete_service: ClassVar[Callable[..., None]]
    parents: ClassVar[tuple[str, ...]] = ()

    def __init_subclass__(cls, **options: Any) -> None:
        """Let rows be deleted where there is a service for it."""
        super().__init_subclass__(**options)
        if hasattr(cls, "delete_service"):
            cls.http_method_names = [*RecordViewSet.http_method_names, "delete"]

    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """One row, with the tag by which a change can say what it was made from (`If-Match`)."""
        return _tagged(super().retrieve(request, *args, **kwargs))

    def partial_update(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Change some of it; with `If-Match` only if nobody else did since."""
        return _tagged(self._matching(lambda: super(RecordViewSet, self).partial_update(request, *args, **kwargs)))

    def destroy(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Delete it; with `If-Match` only if nobody changed it since."""
        return self._matching(lambda: super(RecordViewSet, self).destroy(request, *args, **kwargs))

    def _matching(self, act: Callable[[], Response]) -> Response:
        told = self.request.headers.get("If-Match")
        if told is None:
            return act()
        tag = lambda: tag_of(self.get_serializer(self.get_object()).data)  # noqa: E731 -- read again under the lock
        return act_if_unchanged(row=self.get_object(), told=told, tag=tag, act=act)

    def perform_create(self, serializer: serializers.BaseSerializer[Any]) -> None:
        """Hand a new row to the service."""
        values = serializer.validated_data
        row = self.model(**{name: values[name] for name in self.parents})
        serializer.instance = type(self).save_service(actor=actor_of(self.request), row=row, values=values)

    def perform_update(self, serializer: serializers.BaseSerializer[Any]) -> None:
        """Hand the row to the service with what is to change."""
        serializer.instance = type(self).save_service(
            actor=actor_of(self.request), row=serializer.instance, values=serializer.validated_data
        )

    def perform_destroy(self, instance: M) -> None:
        """Hand the row to the service."""
        type(self).delete_service(actor=actor_of(self.request), row=instance)


def tag_of(data: Any) -> str:
    """A strong ETag of a row as the API tells it (RFC 9110, 8.8.3)."""
    return f'"{hashlib.sha256(JSONRenderer().render(data)).hexdigest()[:32]}"'


def _tagged(answer: Response) -> Response:
    answer["ETag"] = tag_of(answer.data)
    return answer


class EndsSerializer(BodySerializer):
    """What saving would end or let go on, in sentences; empty for nothing."""

    effects = serializers.ListField(child=serializers.CharField())


class ShowsEnds[M: Model](RecordViewSet[M]):
    """Rows with a last day or with hours: what saving one would end can be asked before."""

    @extend_schema(responses=EndsSerializer)
    @action(detail=True, methods=["post"])
    def effects(self, request: Request, pk: int) -> Response:
        """Planned sessions that the change takes off or leaves outside, and services that nobody gives then.

        Nothing is saved.
        """
        row = self.get_object()
        asked = self.get_serializer(row, data=request.data, partial=True)
        asked.is_valid(raise_exception=True)
        actor, save = actor_of(request), type(self).save_service
        told = ends_foreseen(actor, row, lambda: save(actor=actor, row=row, values=asked.validated_data))
        return Response(EndsSerializer({"effects": told}).data)


class ShowsWhatIsOutside[M: Model](ShowsEnds[M]):
    """Rows with hours that can be deleted: what that would leave outside can be asked before, too."""

    @extend_schema(request=None, responses=EndsSerializer)
    @action(detail=True, methods=["post"], url_path="delete/effects", url_name="delete-effects")
    def delete_effects(self, request: Request, pk: int) -> Response:
        """Planned sessions that deleting leaves outside, or inside again. Nothing is saved."""
        row, actor = self.get_object(), actor_of(request)
        delete = type(self).delete_service
        told = ends_foreseen(actor, row, lambda: delete(actor=actor, row=copy(row)))
        return Response(EndsSerializer({"effects": told}).data)
