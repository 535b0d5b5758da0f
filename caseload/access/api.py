"""The API of who saw what."""

from django_filters import rest_framework as filters
from django_filters.rest_framework import CharFilter

from accounts.api import ReadViewSet, RecordSerializer
from accounts.api_fields import DateFilter, IdFilter
from caseload.access.models import Access


class AccessFilters(filters.FilterSet):  # type: ignore[misc]  # it has no types
    """By whom, about whom (one by one), what, in which role, and from when to when, in UTC."""

    person = IdFilter("person_id")
    student = IdFilter("students")
    kind = CharFilter()
    role = CharFilter()
    first = DateFilter(field_name="at", lookup_expr="date__gte")
    last = DateFilter(field_name="at", lookup_expr="date__lte")


class AccessSerializer(RecordSerializer[Access]):
    """One thing that somebody saw, took out or did. Students by id, up to 25; of more there is their number."""

    class Meta:
        model = Access
        fields = ("id", "person", "kind", "role", "at", "page", "about", "why", "count", "students")


class AccessViewSet(ReadViewSet[Access]):
    """Who saw what: views of students, files, calendars, sign-ins. What substitutes saw of care: `care-views/`."""

    serializer_class = AccessSerializer
    filterset_class = AccessFilters
    read_permission = write_permission = "access.view"
    prefetch = ("students",)
