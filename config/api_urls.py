"""Addresses of the API, version 1. Names: ``api:building-list``, ``api:building-detail`` and so on."""

from django.urls import URLPattern, URLResolver, path
from drf_spectacular.views import SpectacularAPIView
from rest_framework.routers import SimpleRouter

from accounts.idempotency.api import SendingsApi, WithdrawnKeysApi
from accounts.invitations import api as invitations
from accounts.people import api as people
from accounts.roles import api as roles
from accounts.sign_in import api as sign_in
from accounts.tokens import api as tokens
from caseload.access import api as access
from caseload.care import api as care
from caseload.delivery import api as delivery
from caseload.plans import api as plans
from caseload.plans.enrollment import api as enrollments
from caseload.progress import api as progress
from caseload.teams import api as teams
from config.work.api import WorkAgainApi, WorkApi
from schedule.aides import api as aides
from schedule.assigning import api as assigning
from schedule.attention import api as attention
from schedule.beginning.api import BeginningApi
from schedule.calendar.api import bells as calendar_bells
from schedule.calendar.api import records as calendar
from schedule.calendar.api import rotations as calendar_rotations
from schedule.class_hour import api as class_hour
from schedule.closing import api as closing
from schedule.covers import api as covers
from schedule.day import api as day
from schedule.equipment import api as equipment
from schedule.erasing import api as erasing
from schedule.everybody import api as everybody
from schedule.feeds import api as feeds
from schedule.happenings import api as happenings
from schedule.imports.api import calendar_sources
from schedule.imports.api import tables as imports
from schedule.imports.api import templates as import_templates
from schedule.joint import api as joint
from schedule.leaving import api as leaving
from schedule.log import api as log
from schedule.long_steps import api as long_steps
from schedule.make_ups import api as make_ups
from schedule.meetings import api as meetings
from schedule.next_year import api as next_year
from schedule.notices import api as notices
from schedule.overview import api as overview
from schedule.packet import api as packet
from schedule.reports import api as reports
from schedule.stations import api as stations
from schedule.telling import api as telling
from schedule.terms import api as terms
from schedule.together import api as together
from schedule.trips.api import month as trips
from schedule.trips.api import road_map
from schedule.trips.api import vouchers as trip_vouchers
from schedule.weeks.api import runs, weeks
from schedule.workload.api import WorkloadApi
from travel.district import api as district
from travel.drives import api as drives
from travel.mileage import api as mileage
from travel.places import api as places
from travel.reviews import api as reviews

app_name = "api"

router = SimpleRouter(use_regex_path=False)
router.register("people", people.PersonViewSet, "person")
router.register("invitations", invitations.InvitationViewSet, "invitation")
router.register("roles", roles.PersonRoleViewSet, "role")
router.register("second-factors", sign_in.SecondFactorViewSet, "second_factor")
router.register("api-tokens", tokens.ApiTokenViewSet, "api_token")
router.register("open-sessions", sign_in.OpenSessionViewSet, "open_session")
router.register("substitutions", people.SubstitutionViewSet, "substitution")
router.register("teams", teams.TeamViewSet, "team")
router.register("reviews", reviews.BuildingReviewViewSet, "review")
router.register("buildings", places.BuildingViewSet, "building")
router.register("spaces", places.SpaceViewSet, "space")
router.register("own-drive-times", drives.OwnDriveTimeViewSet, "own_drive_time")
router.register("drive-logs", drives.DriveLogViewSet, "drive_log")
router.register("drive-factors", drives.DriveFactorViewSet, "drive_factor")
router.register("travel-choices", drives.TravelChoicesViewSet, "travel_choices")
router.register("mileage-settings", mileage.MileageSettingsViewSet, "mileage_settings")
router.register("mileage-rates", mileage.MileageRateViewSet, "mileage_rate")
router.register("account-codes", mileage.AccountCodeViewSet, "account_code")
router.register("teacher-homes", mileage.TeacherHomeViewSet, "teacher_home")
router.register("mileage-months", trips.MileageMonthViewSet, "mileage_month")
router.register("trips", trips.TripViewSet, "trip")
router.register("vouchers", trip_vouchers.VoucherViewSet, "voucher")
router.register("students", plans.StudentViewSet, "student")
router.register("enrollments", enrollments.EnrollmentViewSet, "enrollment")
router.register("plans", plans.PlanViewSet, "plan")
router.register("service-lines", plans.ServiceLineViewSet, "service_line")
router.register("holds", plans.StudentHoldViewSet, "hold")
router.register("supports", care.SupportViewSet, "support")
router.register("cautions", care.CautionViewSet, "caution")
router.register("caution-tags", care.CautionTagViewSet, "caution_tag")
router.register("contacts", care.ContactViewSet, "contact")
router.register("accesses", access.AccessViewSet, "access")
router.register("care-views", care.CareViewViewSet, "care_view")
router.register("retention-rules", erasing.RetentionRuleViewSet, "retention_rule")
router.register("erasure-holds", erasing.ErasureHoldViewSet, "erasure_hold")
router.register("parents-words", erasing.ParentsWordViewSet, "parents_word")
router.register("permanent-records", erasing.PermanentRecordViewSet, "permanent_record")
router.register("tries", care.TryViewSet, "try")
router.register("classes", plans.SchoolClassViewSet, "school_class")
router.register("log-entries", delivery.LogEntryViewSet, "log_entry")
router.register("goals", progress.GoalViewSet, "goal")
router.register("phase-changes", progress.PhaseChangeViewSet, "phase_change")
router.register("goal-rules", progress.GoalRulesViewSet, "goal_rules")
router.register("data-points", progress.DataPointViewSet, "data_point")
router.register("compensatory-times", delivery.CompensatoryTimeViewSet, "compensatory_time")
router.register("missed-reasons", delivery.MissedReasonViewSet, "missed_reason")
router.register("ledger-rules", log.LedgerRulesViewSet, "ledger_rule")
router.register("bell-schedules", calendar_bells.BellScheduleViewSet, "bell_schedule")
router.register("bell-rules", calendar.BellRuleViewSet, "bell_rule")
router.register("rotations", calendar_rotations.RotationViewSet, "rotation")
router.register("class-meetings", calendar.ClassMeetingViewSet, "class_meeting")
router.register("class-days", calendar.ClassDayViewSet, "class_day")
router.register("space-free-times", calendar.SpaceFreeTimeViewSet, "space_free_time")
router.register("school-years", calendar.SchoolYearViewSet, "school_year")
router.register("marking-periods", calendar.MarkingPeriodViewSet, "marking_period")
router.register("calendar-entries", calendar.CalendarEntryViewSet, "calendar_entry")
router.register("word-rules", calendar.WordRuleViewSet, "word_rule")
router.register("teacher-rules", calendar.TeacherRulesViewSet, "teacher_rules")
router.register("contract-days", calendar.ContractDayViewSet, "contract_day")
router.register("meetings", calendar.MeetingViewSet, "meeting")
router.register("weeks", weeks.WeekViewSet, "week")
router.register("plan-runs", runs.PlanRunViewSet, "plan_run")
router.register("terms", terms.TermViewSet, "term")
router.register("together", together.TogetherPlanViewSet, "together-plan")
router.register("steps", long_steps.LongStepViewSet, "long-step")
router.register("everybody", everybody.EverybodyPlanViewSet, "everybody-plan")
router.register("aide-hours", aides.AideHoursViewSet, "aide_hours")
router.register("joint-services", joint.JointServiceViewSet, "joint_service")
router.register("common-meetings", meetings.CommonMeetingViewSet, "common_meeting")
router.register("leaves", leaving.LeaveViewSet, "leave")
router.register("posts", assigning.PostViewSet, "post")
router.register("assigning-runs", assigning.AssigningRunViewSet, "assigning-run")
router.register("assigning-proposals", assigning.ProposalViewSet, "assigning-proposal")
router.register("next-years", next_year.NextYearViewSet, "next-year")
router.register("next-year-periods", next_year.NextYearPeriodViewSet, "next-year-period")
router.register("next-year-days", next_year.NextYearDayViewSet, "next-year-day")
router.register("next-year-buildings", next_year.NextYearBuildingViewSet, "next-year-building")
router.register("next-year-classes", next_year.NextYearClassViewSet, "next-year-class")
router.register("next-year-students", next_year.NextYearStudentViewSet, "next-year-student")
router.register("activities", equipment.ActivityViewSet, "activity")
router.register("equipment", equipment.EquipmentViewSet, "equipment")
router.register("space-cautions", equipment.SpaceCautionsViewSet, "space_cautions")
router.register("equipment-stocks", equipment.StockViewSet, "stock")
router.register("routines", class_hour.RoutineViewSet, "routine")
router.register("routine-parts", class_hour.PartViewSet, "routine_part")
router.register("stations", stations.StationViewSet, "station")
router.register("station-equipment", stations.StationEquipmentViewSet, "station_need")
router.register("station-goals", stations.StationGoalViewSet, "station_goal")
router.register("station-rotations", stations.StationRotationViewSet, "station_rotation")
router.register("happenings", happenings.HappeningViewSet, "happening")
router.register("covers", covers.CoverViewSet, "cover")
router.register("packet-links", packet.PacketLinkViewSet, "packet_link")
router.register("feeds", feeds.FeedViewSet, "feed")
router.register("notices", notices.NoticeViewSet, "notice")
router.register("name-rules", notices.NameRuleViewSet, "name_rule")
router.register("push-devices", notices.PushDeviceViewSet, "push_device")
router.register("calendar-sources", calendar_sources.CalendarSourceViewSet, "calendar_source")
router.register("busy-calendars", feeds.BusyCalendarViewSet, "busy_calendar")
router.register("imports", imports.ImportViewSet, "import")
router.register("import-tables", import_templates.ImportTableViewSet, "import_table")

urlpatterns: list[URLPattern | URLResolver] = [
    path("schema/", SpectacularAPIView.as_view(), name="schema"),
    path("sendings/", SendingsApi.as_view(), name="sendings"),
    path("own-role/", roles.OwnRoleApi.as_view(), name="own_role"),
    path("own-password/", sign_in.OwnPasswordApi.as_view(), name="own_password"),
    path("sign-in-rules/", sign_in.SignInRulesApi.as_view(), name="sign_in_rules"),
    path("withdrawn-keys/", WithdrawnKeysApi.as_view(), name="withdrawn_keys"),
    path("district/", district.DistrictApi.as_view(), name="district"),
    path("drive-times/", drives.DriveTableApi.as_view(), name="drive_times"),
    path("ledger-settings/", delivery.LedgerSettingsApi.as_view(), name="ledger_settings"),
    path("hearing/", notices.HearingApi.as_view(), name="hearing"),
    path("notice-settings/", notices.NoticeSettingsApi.as_view(), name="notice_settings"),
    path("log-months/rules/", closing.LogMonthRulesApi.as_view(), name="log_month_rules"),
    path("log-months/<id:teacher>/<slug:month>/", closing.LogMonthApi.as_view(), name="log_month"),
    path("log-months/<id:teacher>/<slug:month>/sign/", closing.LogMonthSignApi.as_view(), name="log_month_sign"),
    path("log-months/<id:teacher>/<slug:month>/close/", closing.LogMonthCloseApi.as_view(), name="log_month_close"),
    path(
        "log-months/<id:teacher>/<slug:month>/reopen/", closing.LogMonthReopenApi.as_view(), name="log_month_reopen"
    ),
    path("sessions-to-log/", log.SessionsToLogApi.as_view(), name="sessions_to_log"),
    path("unlogged-sessions/", log.UnloggedSessionsApi.as_view(), name="unlogged_sessions"),
    path("session-logs/", log.SessionLogApi.as_view(), name="session_log"),
    path("days/<str:date>/", day.DayApi.as_view(), name="day"),
    path("days/<str:date>/start/", day.DayStartApi.as_view(), name="day_start"),
    path("days/<str:date>/arrive/", day.DayArriveApi.as_view(), name="day_arrive"),
    path("days/<str:date>/undo/", day.DayUndoApi.as_view(), name="day_undo"),
    path("class-hours/<str:date>/", class_hour.ClassHoursApi.as_view(), name="class_hours"),
    path("class-hours/<str:date>/<uuid:uid>/taps/", class_hour.RunTapsApi.as_view(), name="class_hour_taps"),
    path("weeks/<id:week_id>/equipment/", class_hour.WeekEquipmentApi.as_view(), name="week_equipment"),
    path("load-lists/<str:date>/", class_hour.LoadListApi.as_view(), name="load_list"),
    path("changes-since/", notices.SinceApi.as_view(), name="changes_since"),
    path("changes-seen/", notices.SeenApi.as_view(), name="changes_seen"),
    path("changes-unseen/", notices.UnseenApi.as_view(), name="changes_unseen"),
    path("silent-calendars/", feeds.SilentCalendarsApi.as_view(), name="silent_calendars"),
    path("log-undos/", log.LogUndoApi.as_view(), name="log_undo"),
    path("day-marks/", log.DayMarkApi.as_view(), name="day_mark"),
    path("caseload-hand-overs/", enrollments.HandOverApi.as_view(), name="caseload_hand_over"),
    path(
        "caseload-hand-overs/effects/",
        enrollments.HandOverEffectsApi.as_view(),
        name="caseload_hand_over_effects",
    ),
    path(
        "caseload-hand-overs/<id:pk>/undo/", enrollments.HandOverUndoApi.as_view(), name="caseload_hand_over_undo"
    ),
    path("students/<id:pk>/ledger/", log.LedgerApi.as_view(), name="ledger"),
    path("students/<id:pk>/care/", care.CareApi.as_view(), name="care"),
    path("students/<id:pk>/support-sheet/", care.SupportSheetApi.as_view(), name="support_sheet"),
    path("students/<id:pk>/care/undo/", care.CareUndoApi.as_view(), name="care_undo"),
    path("classes/<id:pk>/contacts/undo/", care.ContactsUndoApi.as_view(), name="contacts_undo"),
    path("common-meetings/undo/", meetings.CommonMeetingUndoApi.as_view(), name="common_meetings_undo"),
    path("students/<id:pk>/joint-services/undo/", joint.JointServiceUndoApi.as_view(), name="joint_service_undo"),
    path("buildings/<id:pk>/rotations/undo/", calendar_rotations.RotationUndoApi.as_view(), name="rotation_undo"),
    path("contacts/<id:pk>/hours/undo/", aides.AideHoursUndoApi.as_view(), name="aide_hours_undo"),
    path("care-settings/", care.CareSettingsApi.as_view(), name="care_settings"),
    path("attention/", attention.AttentionApi.as_view(), name="attention"),
    path("attention/causes/", attention.SharedCausesApi.as_view(), name="attention_causes"),
    path("attention/plan/", attention.SharedCausePlanApi.as_view(), name="attention_plan"),
    path("forecasts/", attention.ForecastApi.as_view(), name="forecasts"),
    path("make-ups/", make_ups.MakeUpsApi.as_view(), name="make_ups"),
    path("make-ups/groups/", make_ups.MakeUpGroupsApi.as_view(), name="make_up_groups"),
    path("make-ups/after/<id:pk>/", make_ups.MakeUpsAfterApi.as_view(), name="make_ups_after"),
    path("make-ups/plan/", make_ups.MakeUpsPlanApi.as_view(), name="make_ups_plan"),
    path("make-ups/cancel/", make_ups.MakeUpCancelApi.as_view(), name="make_up_cancel"),
    path("make-ups/lines/<id:line_id>/", make_ups.MakeUpSlotsApi.as_view(), name="make_up_slots"),
    path("reports/students/<id:pk>/", reports.StudentReportApi.as_view(), name="report_student"),
    path("reports/students/<id:pk>/everything/", reports.StudentArchiveApi.as_view(), name="student_archive"),
    path("reports/teachers/<id:pk>/", reports.TeacherReportApi.as_view(), name="report_teacher"),
    path("reports/buildings/<id:pk>/", reports.BuildingReportApi.as_view(), name="report_building"),
    path("reports/sessions/", reports.SessionFileApi.as_view(), name="report_sessions"),
    path("reports/district/", reports.DistrictReportApi.as_view(), name="report_district"),
    path("progress-reports/", telling.ProgressReportsApi.as_view(), name="progress_reports"),
    path("progress-reports/periods/<id:pk>/", telling.PeriodReportsApi.as_view(), name="period_reports"),
    path("progress-reports/<id:pk>/", telling.ProgressReportApi.as_view(), name="progress_report"),
    path("progress-reports/<id:pk>/act/", telling.ProgressReportActApi.as_view(), name="progress_report_act"),
    path("progress-reports/<id:pk>/file/", telling.ProgressReportFileApi.as_view(), name="progress_report_file"),
    path("erasure-lists/", erasing.ErasureListsApi.as_view(), name="erasure_lists"),
    path("erasure-lists/<id:pk>/", erasing.ErasureListApi.as_view(), name="erasure_list"),
    path("erasure-lists/<id:pk>/confirm/", erasing.ErasureConfirmApi.as_view(), name="erasure_confirm"),
    path("work/", WorkApi.as_view(), name="work"),
    path("work/<uuid:pk>/start-again/", WorkAgainApi.as_view(), name="work_start_again"),
    path("beginning/", BeginningApi.as_view(), name="beginning"),
    path("workload/", WorkloadApi.as_view(), name="workload"),
    path("overview/", overview.OverviewApi.as_view(), name="overview"),
    path("overview/waits/<int:kind>/", overview.OverviewWaitsApi.as_view(), name="overview_waits"),
    path("road-map/", road_map.RoadMapApi.as_view(), name="road_map"),
    path("move-cost/", road_map.MoveCostApi.as_view(), name="move_cost"),
    *router.urls,
]
