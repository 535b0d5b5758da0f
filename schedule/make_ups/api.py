"""The API of minutes to make up: what is open, where it fits, booking and taking back."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework_dataclasses.serializers import DataclassSerializer

from accounts.api import BodySerializer, actor_of
from accounts.api_fields import DateField, IdField
from schedule.happenings.selectors import happening_get
from schedule.make_ups.forms import MOST_TOGETHER
from schedule.make_ups.minutes import MakeUpSlot
from schedule.make_ups.selectors.after import OfferThisWeek, offers_after
from schedule.make_ups.selectors.needs import GroupNeed, MakeUpNeed, group_needs, line_to_make_up, make_up_needs
from schedule.make_ups.selectors.slots import SlotChoice, make_up_slots
from schedule.make_ups.services.booking import make_up_book, make_up_cancel
from schedule.make_ups.services.together import make_ups_plan
from schedule.weeks.api.runs import RunSerializer
from schedule.weeks.api.teacher_view import TEACHER, MinutesView
from schedule.weeks.models import WeekPlan
from schedule.weeks.selectors.runs import run_detail
from schedule.weeks.selectors.weeks import week_get


@dataclass(frozen=True, slots=True)
class MissedItem:
    """Open minutes of one missed session, or (without a date) of none."""

    missed: dt.date | None
    minutes: int
    due: dt.date


@dataclass(frozen=True, slots=True)
class NeedItem:
    """A service with open minutes, and by when they should be made up."""

    line_id: int
    student_id: int
    student_code: str
    statement: str
    open_minutes: int
    booked_minutes: int
    due: dt.date | None
    sessions: list[MissedItem]


@dataclass(frozen=True, slots=True)
class GroupItem:
    """A session that several students missed together and that can be given again to all of them."""

    makes_up_for: dt.date
    minutes: int
    due: dt.date
    line_ids: list[int]


@dataclass(frozen=True, slots=True)
class SlotItem:
    """A moment at which a make-up fits; `words` say what it costs. `mates`: who could give it as well."""

    date: dt.date
    start: dt.time
    minutes: int
    building_code: str
    space_name: str
    period: str
    added_drive_minutes: int
    added_miles: Decimal
    wishes_missed: int
    late: bool
    in_force: bool
    words: str
    mates: list[str]


@dataclass(frozen=True, slots=True)
class BookedWeek:
    """The week that a booking changed, as a version or a draft."""

    week_id: int
    status: str
    version: int | None
    revision: int


@dataclass(frozen=True, slots=True)
class OfferItem:
    """A session that fell out, and where it still fits this week; none of `slots` if nowhere."""

    missed: dt.date | None
    minutes: int
    line_ids: list[int]
    slots: list[SlotItem]


class NeedSerializer(DataclassSerializer[NeedItem]):
    """A service with minutes to make up."""

    class Meta:
        dataclass = NeedItem


class SlotSerializer(DataclassSerializer[SlotItem]):
    """A slot for a make-up."""

    class Meta:
        dataclass = SlotItem


class BookedSerializer(DataclassSerializer[BookedWeek]):
    """What a booking changed."""

    class Meta:
        dataclass = BookedWeek


class GroupSerializer(DataclassSerializer[GroupItem]):
    """A session that a group missed."""

    class Meta:
        dataclass = GroupItem


class OfferSerializer(DataclassSerializer[OfferItem]):
    """What fell out, with slots of this week."""

    class Meta:
        dataclass = OfferItem


class ChoiceSerializer(BodySerializer):
    """What slots are looked for; the oldest open minutes until they are due, if nothing is said."""

    until = DateField(required=False, help_text="Last date to look at.")
    makes_up_for = DateField(required=False, help_text="The day of the missed session.")
    others = serializers.ListField(
        child=IdField(), required=False, max_length=MOST_TOGETHER, help_text="Lines of a group that missed it too."
    )
    weekday = serializers.IntegerField(required=False, min_value=0, max_value=6, help_text="0 is Monday.")
    building = serializers.CharField(required=False, max_length=40, help_text="Code of a school.")


class BookSerializer(BodySerializer):
    """One slot; the session that it makes up, and the lines of those who missed it as well."""

    date = DateField()
    start = serializers.TimeField()
    minutes = serializers.IntegerField(min_value=1, max_value=480)
    makes_up_for = DateField(required=False)
    others = serializers.ListField(child=IdField(), required=False, max_length=MOST_TOGETHER)


class CancelSerializer(BodySerializer):
    """A booked make-up by its week and uid."""

    week = IdField()
    uid = serializers.UUIDField()


class PlanAllSerializer(BodySerializer):
    """Whose make-ups, over how many weeks."""

    teacher = IdField(required=False)
    weeks = serializers.IntegerField(min_value=1, max_value=6, default=4)


class MakeUpsApi(MinutesView):
    """Services with minutes to make up."""

    @extend_schema(parameters=[TEACHER], responses=NeedSerializer(many=True), operation_id="make_ups")
    def get(self, request: Request) -> Response:
        """The earliest date first."""
        needs = make_up_needs(actor_of(request), self.teacher(request.query_params.get("teacher")), self.today)
        return Response(NeedSerializer([_need_item(one) for one in needs], many=True).data)


def _need_item(one: MakeUpNeed) -> NeedItem:
    booked = sum(make_up.minutes for make_up in one.booked)
    sessions = [MissedItem(open_.missed, open_.minutes, open_.due) for open_ in one.open]
    return NeedItem(
        one.line.pk, one.student.pk, one.student.code, one.line.statement, one.minutes, booked, one.due, sessions
    )


class MakeUpGroupsApi(MinutesView):
    """Sessions that a group missed."""

    @extend_schema(parameters=[TEACHER], responses=GroupSerializer(many=True), operation_id="make_up_groups")
    def get(self, request: Request) -> Response:
        """The earliest date first; book one under one of its lines, with the `others`."""
        needs = make_up_needs(actor_of(request), self.teacher(request.query_params.get("teacher")), self.today)
        return Response(GroupSerializer([_group_item(one) for one in group_needs(needs)], many=True).data)


def _group_item(one: GroupNeed) -> GroupItem:
    return GroupItem(one.missed, one.minutes, one.due, [need.line.pk for need in one.members])


class MakeUpsAfterApi(MinutesView):
    """What fell out by something that happened."""

    @extend_schema(parameters=[TEACHER], responses=OfferSerializer(many=True), operation_id="make_ups_after")
    def get(self, request: Request, pk: int) -> Response:
        """Where it still fits this week, from tomorrow on; of each, first what adds the fewest miles."""
        actor = actor_of(request)
        row = happening_get(actor, pk)
        teacher = self.teacher(request.query_params.get("teacher") or row.teacher_id)
        found = offers_after(actor, teacher, row, self.today)
        return Response(OfferSerializer([_offer_item(one) for one in found], many=True).data)


def _offer_item(one: OfferThisWeek) -> OfferItem:
    item = one.target.one
    return OfferItem(item.missed, item.minutes, list(one.target.lines), [_slot_item(slot) for slot in one.slots])


class MakeUpSlotsApi(MinutesView):
    """Slots of one service, or of a group."""

    @extend_schema(parameters=[ChoiceSerializer], responses=SlotSerializer(many=True), operation_id="make_up_slots")
    def get(self, request: Request, line_id: int) -> Response:
        """By date, each moment once, at the whole length missed."""
        actor = actor_of(request)
        asked = ChoiceSerializer(data=request.query_params)
        asked.is_valid(raise_exception=True)
        values = asked.validated_data
        choice = SlotChoice(
            values.get("makes_up_for"),
            tuple(values.get("others", ())),
            values.get("until"),
            values.get("weekday"),
            values.get("building", ""),
        )
        found = make_up_slots(actor, line_to_make_up(actor, line_id, self.today), self.today, choice)
        return Response(SlotSerializer([_slot_item(one) for one in found.slots], many=True).data)

    @extend_schema(request=BookSerializer, responses={201: BookedSerializer}, operation_id="make_up_book")
    def post(self, request: Request, line_id: int) -> Response:
        """Book one slot; the same booking sent twice is stored once."""
        actor = actor_of(request)
        line = line_to_make_up(actor, line_id, self.today)
        body = BookSerializer(data=request.data)
        body.is_valid(raise_exception=True)
        week = make_up_book(actor=actor, line=line, today=self.today, **body.validated_data)
        return Response(_booked(week), status=201)


def _slot_item(one: MakeUpSlot) -> SlotItem:
    return SlotItem(
        one.date,
        dt.time(one.start // 60, one.start % 60),
        one.minutes,
        one.building_code,
        one.space_name,
        one.period,
        one.added_drive_minutes,
        one.added_miles,
        one.wishes_missed,
        one.late,
        one.in_force,
        one.words,
        list(one.mates),
    )


def _booked(week: WeekPlan) -> dict[str, Any]:
    data: dict[str, Any] = BookedSerializer(BookedWeek(week.pk, week.status, week.version, week.revision)).data
    return data


class MakeUpCancelApi(MinutesView):
    """Taking a booking back."""

    @extend_schema(request=CancelSerializer, responses=BookedSerializer, operation_id="make_up_cancel")
    def post(self, request: Request) -> Response:
        """Its minutes are open again."""
        body = CancelSerializer(data=request.data)
        body.is_valid(raise_exception=True)
        actor = actor_of(request)
        week = week_get(actor, body.validated_data["week"])
        return Response(_booked(make_up_cancel(actor=actor, week=week, uid=str(body.validated_data["uid"]))))


class MakeUpsPlanApi(MinutesView):
    """Planning all make-ups."""

    @extend_schema(request=PlanAllSerializer, responses={201: RunSerializer}, operation_id="make_ups_plan")
    def post(self, request: Request) -> Response:
        """Place everything that is open, in the background."""
        body = PlanAllSerializer(data=request.data)
        body.is_valid(raise_exception=True)
        actor = actor_of(request)
        teacher = self.teacher(body.validated_data.get("teacher"))
        run = make_ups_plan(actor=actor, teacher=teacher, today=self.today, weeks=body.validated_data["weeks"])
        return Response(RunSerializer(run_detail(actor, run)).data, status=201)
