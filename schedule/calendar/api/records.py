"""The API of bells, days, the calendar and the teacher's rules."""

from typing import Any, cast

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import (
    EndsSerializer,
    RecordSerializer,
    RecordViewSet,
    ShowsWhatIsOutside,
    actor_of,
)
from accounts.guards import ends_foreseen
from caseload.plans.names import name_warnings, names_seen
from schedule.calendar.models import (
    BellRule,
    CalendarEntry,
    ClassDayTime,
    ClassMeeting,
    ContractDay,
    MarkingPeriod,
    Meeting,
    SchoolYear,
    SpaceFreeTime,
    TeacherRules,
    WordRule,
)
from schedule.calendar.services import records
from schedule.calendar.services.special_days import special_day_delete, special_day_save

VIEW, SHARED, OWN = "week.view", "district.change", "week.change"


class TitledSerializer[M: (CalendarEntry, Meeting)](RecordSerializer[M]):
    """A row whose title phones' calendars and messages show as it is written."""

    warnings = serializers.SerializerMethodField(
        help_text="A student's name in the title, in words. It is saved all the same."
    )

    def get_warnings(self, row: M) -> list[str]:
        """As the pages ask before they save; names are read once for a whole list."""
        viewer, context = actor_of(self.context["request"]), cast("dict[str, Any]", self.context)
        if "names_seen" not in context:
            context["names_seen"] = names_seen(viewer)
        return name_warnings(viewer, row.title, context["names_seen"])


class BellRuleSerializer(RecordSerializer[BellRule]):
    """Which bells ring on a weekday or cycle day."""

    class Meta:
        model = BellRule
        fields = ("id", "building", "day", "schedule")


class BellRuleViewSet(RecordViewSet[BellRule]):
    """Days with other bells than the regular ones."""

    serializer_class = BellRuleSerializer
    filters = {"building": "building_id"}
    read_permission, write_permission = VIEW, SHARED
    save_service = records.bell_rule_save
    delete_service = records.bell_rule_delete


class ClassMeetingSerializer(RecordSerializer[ClassMeeting]):
    """When a class has its own physical education: a period's name, or two local clock times."""

    class Meta:
        model = ClassMeeting
        fields = ("id", "school_class", "days", "period", "start", "end", "space")


class ClassMeetingViewSet(RecordViewSet[ClassMeeting]):
    """Physical education times of the classes that the person may see."""

    serializer_class = ClassMeetingSerializer
    filters = {"school_class": "school_class_id"}
    read_permission, write_permission = VIEW, SHARED
    save_service = records.class_meeting_save
    delete_service = records.class_meeting_delete


class ClassDaySerializer(RecordSerializer[ClassDayTime]):
    """When a class is at school (at no other time), or has its lunch instead of its grade's; local clock times."""

    class Meta:
        model = ClassDayTime
        fields = ("id", "school_class", "kind", "days", "start", "end", "first_day", "last_day")


class ClassDayViewSet(RecordViewSet[ClassDayTime]):
    """Own hours and lunches of the classes that the person may see."""

    serializer_class = ClassDaySerializer
    filters = {"school_class": "school_class_id"}
    read_permission, write_permission = VIEW, SHARED
    save_service = records.class_day_save
    delete_service = records.class_day_delete


class SpaceFreeTimeSerializer(RecordSerializer[SpaceFreeTime]):
    """When a space is free for the teacher; a space without any such time is free all day."""

    class Meta:
        model = SpaceFreeTime
        fields = ("id", "space", "days", "period", "start", "end")


class SpaceFreeTimeViewSet(ShowsWhatIsOutside[SpaceFreeTime]):
    """Free times of the spaces that the person may see."""

    serializer_class = SpaceFreeTimeSerializer
    filters = {"space": "space_id", "building": "space__building_id"}
    read_permission, write_permission = VIEW, SHARED
    save_service = records.space_free_time_save
    delete_service = records.space_free_time_delete

    @extend_schema(responses=EndsSerializer, operation_id="space_free_times_new_effects_create")
    @action(detail=False, methods=["post"], url_path="effects", url_name="new-effects")
    def new_effects(self, request: Request) -> Response:
        """Planned sessions that a new free time leaves outside: the first one closes the rest of the day.

        Nothing is saved.
        """
        asked = self.get_serializer(data=request.data)
        asked.is_valid(raise_exception=True)
        actor, values = actor_of(request), asked.validated_data
        row, tried = SpaceFreeTime(space=values["space"]), SpaceFreeTime(space=values["space"])
        told = ends_foreseen(
            actor, row, lambda: records.space_free_time_save(actor=actor, row=tried, values=values)
        )
        return Response(EndsSerializer({"effects": told}).data)


class SchoolYearSerializer(RecordSerializer[SchoolYear]):
    """First to last day with students."""

    class Meta:
        model = SchoolYear
        fields = ("id", "name", "first_day", "last_day", "extended")


class SchoolYearViewSet(RecordViewSet[SchoolYear]):
    """School years of the district."""

    serializer_class = SchoolYearSerializer
    read_permission, write_permission = VIEW, SHARED
    save_service = records.school_year_save


class MarkingPeriodSerializer(RecordSerializer[MarkingPeriod]):
    """A stretch of the year after which progress is reported."""

    class Meta:
        model = MarkingPeriod
        fields = ("id", "school_year", "name", "first_day", "last_day")


class MarkingPeriodViewSet(RecordViewSet[MarkingPeriod]):
    """Marking periods of the district."""

    serializer_class = MarkingPeriodSerializer
    filters = {"school_year": "school_year_id"}
    read_permission, write_permission = VIEW, SHARED
    save_service = records.marking_period_save
    delete_service = records.marking_period_delete


class CalendarEntrySerializer(TitledSerializer[CalendarEntry]):
    """A special day or stretch of days; without a last date it is one day.

    One with a `happening` was said there, and is taken back there. A closing or other hours of days for which weeks
    are in force is refused with `something_happened`: it is said with `happenings/`.
    """

    class Meta:
        model = CalendarEntry
        fields = (
            "id", "building", "first_date", "last_date", "kind", "bell_schedule", "title", "opens_at", "closes_at",
            "happening", "warnings",
        )  # fmt: skip
        read_only_fields = ("happening",)
        extra_kwargs = {"last_date": {"required": False}}


class CalendarEntryViewSet(RecordViewSet[CalendarEntry]):
    """Special days of the district and of its buildings."""

    serializer_class = CalendarEntrySerializer
    filters = {"building": "building_id"}
    read_permission, write_permission = VIEW, SHARED
    save_service = special_day_save
    delete_service = special_day_delete


class WordRuleSerializer(RecordSerializer[WordRule]):
    """Words of a published calendar and the kind of day that they stand for."""

    class Meta:
        model = WordRule
        fields = ("id", "words", "kind", "position")


class WordRuleViewSet(RecordViewSet[WordRule]):
    """The district's table of words."""

    serializer_class = WordRuleSerializer
    read_permission, write_permission = VIEW, SHARED
    save_service = records.word_rule_save
    delete_service = records.word_rule_delete


class TeacherRulesSerializer(RecordSerializer[TeacherRules]):
    """What a teacher asks of every week; `teacher` is the person who asks where none is given."""

    class Meta:
        model = TeacherRules
        fields = (
            "id",
            "teacher",
            "start_place",
            "end_place",
            "lunch_minutes",
            "lunch_earliest",
            "lunch_latest_end",
            "preparation_minutes",
            "preparation_per",
            "preparation_smallest_block",
            "longest_stretch",
            "setup_minutes",
            "largest_group",
            "grades_apart",
        )
        extra_kwargs: dict[str, Any] = {"teacher": {"required": False, "validators": []}}


class TeacherRulesViewSet(RecordViewSet[TeacherRules]):
    """Rules of the teacher, or for a coordinator of all teachers."""

    serializer_class = TeacherRulesSerializer
    filters = {"teacher": "teacher_id"}
    read_permission = write_permission = OWN
    save_service = records.teacher_rules_save


class ContractDaySerializer(RecordSerializer[ContractDay]):
    """Contract hours of a weekday (0 is Monday)."""

    class Meta:
        model = ContractDay
        fields = ("id", "teacher", "weekday", "start", "end")
        extra_kwargs = {"teacher": {"required": False}}


class ContractDayViewSet(ShowsWhatIsOutside[ContractDay]):
    """Contract hours by weekday; no row, no work that day."""

    serializer_class = ContractDaySerializer
    filters = {"teacher": "teacher_id"}
    read_permission = write_permission = OWN
    save_service = records.contract_day_save
    delete_service = records.contract_day_delete


class MeetingSerializer(TitledSerializer[Meeting]):
    """Something that blocks the teacher: on a weekday (0 is Monday), every week or once a month, or on one date.

    `month_place`: 1 to 4 for the first to the fourth such weekday of each month, -1 for the last, empty for all.
    """

    class Meta:
        model = Meeting
        fields = (
            "id",
            "teacher",
            "title",
            "weekday",
            "month_place",
            "date",
            "start",
            "end",
            "building",
            "warnings",
        )
        extra_kwargs = {"teacher": {"required": False}}


class MeetingViewSet(RecordViewSet[Meeting]):
    """Meetings of the teacher, or for a coordinator of all teachers."""

    serializer_class = MeetingSerializer
    filters = {"teacher": "teacher_id"}
    read_permission = write_permission = OWN
    save_service = records.meeting_save
    delete_service = records.meeting_delete
