"""The API of the caseload floor: students, plans, service lines, times when a student can't be taken, classes."""

from typing import Any

from rest_framework import serializers

from accounts import api_fields
from accounts.api import RecordSerializer, RecordViewSet, actor_of
from caseload.plans import services
from caseload.plans.models import Plan, SchoolClass, ServiceLine, Student, StudentHold

VIEW, CHANGE = "caseload.view", "caseload.change"


class StudentSerializer(RecordSerializer[Student]):
    """A student. With `statement` a new student gets a provisional plan with that one service line."""

    statement = serializers.CharField(
        write_only=True,
        required=False,
        max_length=120,
        help_text="For a new student without a plan: the service given until it arrives, such as 2 x 30 min/week.",
    )

    from_day = api_fields.DateField(
        write_only=True,
        required=False,
        help_text="From which day another building, home class, grade or caseload teacher of a known student "
        "holds; days before it keep theirs. Needed for another building; today where it is missing otherwise.",
    )

    class Meta:
        model = Student
        fields = (
            "id",
            "code",
            "first_name",
            "last_name",
            "grade",
            "building",
            "home_class",
            "caseload_teacher",
            "first_day",
            "last_day",
            "supports",
            "cautions",
            "from_day",
            "statement",
        )
        extra_kwargs = {"caseload_teacher": {"required": False}}

    def validate_statement(self, value: str) -> str:
        """Only with a new student: later, service lines are changed by themselves."""
        if self.instance is not None:
            raise serializers.ValidationError("Change the student's service lines instead.")
        return value


class StudentViewSet(RecordViewSet[Student]):
    """The caseload: a teacher's own, a coordinator's district."""

    serializer_class = StudentSerializer
    filters = {"building": "building_id", "teacher": "caseload_teacher_id"}
    read_permission, write_permission = VIEW, CHANGE
    save_service = services.student_save
    delete_service = services.student_delete

    def perform_create(self, serializer: serializers.BaseSerializer[Any]) -> None:
        """With a statement, add the provisional plan in the same transaction."""
        values = serializer.validated_data
        save = services.student_add_without_plan if "statement" in values else services.student_save
        serializer.instance = save(actor=actor_of(self.request), row=Student(), values=values)


class PlanSerializer(RecordSerializer[Plan]):
    """A student's plan. A new one that is in force ends the provisional plan the day before it starts."""

    class Meta:
        model = Plan
        fields = ("id", "student", "status", "start", "end", "annual_review", "note")


class PlanViewSet(RecordViewSet[Plan]):
    """Plans of the students whom the person may see."""

    serializer_class = PlanSerializer
    filters = {"student": "student_id"}
    read_permission, write_permission = VIEW, CHANGE
    save_service = services.plan_save
    delete_service = services.plan_delete
    parents = ("student",)

    def perform_create(self, serializer: serializers.BaseSerializer[Any]) -> None:
        """The plan that has come replaces the provisional one."""
        values = serializer.validated_data
        provisional = values.get("status") == Plan.Status.PROVISIONAL
        save = services.plan_save if provisional else services.plan_replace_provisional
        row = Plan(student=values["student"])
        serializer.instance = save(actor=actor_of(self.request), row=row, values=values)


class ServiceLineSerializer(RecordSerializer[ServiceLine]):
    """A service line. `statement` is read into the parts of the frequency, which can only be read here.

    Dates are the plan's, and the provider is the caseload teacher, where none are given.
    """

    class Meta:
        model = ServiceLine
        fields = (
            "id",
            "plan",
            "provider",
            "service_type",
            "setting",
            "statement",
            "times",
            "minutes",
            "minutes_total",
            "unit",
            "cycle_days",
            "weeks_on",
            "weeks_of",
            "start",
            "end",
            "pushed_into",
            "largest_group",
            "allowed_spaces",
            "days_apart",
        )
        read_only_fields = services.FREQUENCY_PARTS
        extra_kwargs = {
            "provider": {"required": False},
            "start": {"required": False},
            "end": {"required": False},
        }


class ServiceLineViewSet(RecordViewSet[ServiceLine]):
    """Service lines of the students whom the person may see."""

    serializer_class = ServiceLineSerializer
    filters = {"plan": "plan_id", "student": "plan__student_id", "provider": "provider_id"}
    read_permission, write_permission = VIEW, CHANGE
    save_service = services.service_line_save
    delete_service = services.service_line_delete
    prefetch = ("allowed_spaces",)
    parents = ("plan",)


class StudentHoldSerializer(RecordSerializer[StudentHold]):
    """A time when a student can't be taken: a period's name, or two local clock times."""

    class Meta:
        model = StudentHold
        fields = ("id", "student", "reason", "days", "period", "start", "end", "first_day", "last_day")


class StudentHoldViewSet(RecordViewSet[StudentHold]):
    """Times when the students whom the person may see can't be taken."""

    serializer_class = StudentHoldSerializer
    filters = {"student": "student_id"}
    read_permission, write_permission = VIEW, CHANGE
    save_service = services.hold_save
    delete_service = services.hold_delete
    parents = ("student",)


class SchoolClassSerializer(RecordSerializer[SchoolClass]):
    """A class of a building."""

    class Meta:
        model = SchoolClass
        fields = ("id", "building", "code", "name", "kind", "class_teacher", "grades", "ratio", "largest")


class SchoolClassViewSet(RecordViewSet[SchoolClass]):
    """Classes of the buildings that the person may see; they hold no student's data."""

    serializer_class = SchoolClassSerializer
    filters = {"building": "building_id"}
    read_permission, write_permission = "week.view", CHANGE
    save_service = services.school_class_save
    delete_service = services.school_class_delete
    parents = ("building",)
