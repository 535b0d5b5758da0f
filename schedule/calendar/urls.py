"""Addresses of bells, calendar, classes' meetings and teachers' rules: ids only, never a name."""

from django.urls import URLPattern, path

from schedule.calendar.pages import bells, buildings, calendar, class_days, rotations, teacher

urlpatterns: list[URLPattern] = [
    path("buildings/<id:pk>/", buildings.building_detail, name="building_detail"),
    path("buildings/<id:building>/rotations/take-back/", rotations.rotation_taking_back, name="rotation_take_back"),
    path("buildings/<id:building>/days/", rotations.RotationFormPage.as_view(), name="rotation_change"),
    path(
        "buildings/<id:building>/rotations/new/",
        rotations.GradeRotationFormPage.as_view(),
        name="grade_rotation_new",
    ),
    path("rotations/<id:pk>/change/", rotations.GradeRotationFormPage.as_view(), name="grade_rotation_change"),
    path("rotations/<id:pk>/delete/", rotations.GradeRotationDeletePage.as_view(), name="grade_rotation_delete"),
    path("buildings/<id:building>/bells/new/", bells.BellScheduleFormPage.as_view(), name="bell_schedule_new"),
    path("bells/<id:pk>/change/", bells.BellScheduleFormPage.as_view(), name="bell_schedule_change"),
    path("bells/<id:pk>/delete/", bells.BellScheduleDeletePage.as_view(), name="bell_schedule_delete"),
    path("bells/<id:pk>/periods/remove/", bells.BellSetRemovePage.as_view(), name="bell_set_remove"),
    path("bells/<id:pk>/take-back/", bells.bells_taking_back, name="bells_take_back"),
    path("buildings/<id:building>/bell-rules/new/", buildings.BellRuleFormPage.as_view(), name="bell_rule_new"),
    path("bell-rules/<id:pk>/change/", buildings.BellRuleFormPage.as_view(), name="bell_rule_change"),
    path("bell-rules/<id:pk>/delete/", buildings.BellRuleDeletePage.as_view(), name="bell_rule_delete"),
    path("spaces/<id:space>/free/new/", buildings.FreeTimeFormPage.as_view(), name="free_time_new"),
    path("free-times/<id:pk>/change/", buildings.FreeTimeFormPage.as_view(), name="free_time_change"),
    path("free-times/<id:pk>/delete/", buildings.FreeTimeDeletePage.as_view(), name="free_time_delete"),
    path(
        "classes/<id:school_class>/times/new/", buildings.ClassMeetingFormPage.as_view(), name="class_meeting_new"
    ),
    path("class-times/<id:pk>/change/", buildings.ClassMeetingFormPage.as_view(), name="class_meeting_change"),
    path("class-times/<id:pk>/delete/", buildings.ClassMeetingDeletePage.as_view(), name="class_meeting_delete"),
    path("classes/<id:school_class>/day/new/", class_days.ClassDayFormPage.as_view(), name="class_day_new"),
    path("class-days/<id:pk>/change/", class_days.ClassDayFormPage.as_view(), name="class_day_change"),
    path("class-days/<id:pk>/delete/", class_days.ClassDayDeletePage.as_view(), name="class_day_delete"),
    path("calendar/", calendar.calendar, name="calendar"),
    path("calendar/years/new/", calendar.SchoolYearFormPage.as_view(), name="school_year_new"),
    path("calendar/years/<id:pk>/change/", calendar.SchoolYearFormPage.as_view(), name="school_year_change"),
    path(
        "calendar/years/<id:year>/marking-periods/new/",
        calendar.MarkingPeriodFormPage.as_view(),
        name="marking_period_new",
    ),
    path(
        "calendar/marking-periods/<id:pk>/change/",
        calendar.MarkingPeriodFormPage.as_view(),
        name="marking_period_change",
    ),
    path(
        "calendar/marking-periods/<id:pk>/delete/",
        calendar.MarkingPeriodDeletePage.as_view(),
        name="marking_period_delete",
    ),
    path("calendar/entries/new/", calendar.CalendarEntryFormPage.as_view(), name="calendar_entry_new"),
    path(
        "calendar/entries/<id:pk>/change/", calendar.CalendarEntryFormPage.as_view(), name="calendar_entry_change"
    ),
    path(
        "calendar/entries/<id:pk>/delete/",
        calendar.CalendarEntryDeletePage.as_view(),
        name="calendar_entry_delete",
    ),
    path("calendar/words/new/", calendar.WordRuleFormPage.as_view(), name="word_rule_new"),
    path("calendar/words/<id:pk>/change/", calendar.WordRuleFormPage.as_view(), name="word_rule_change"),
    path("calendar/words/<id:pk>/delete/", calendar.WordRuleDeletePage.as_view(), name="word_rule_delete"),
    path("rules/", teacher.teacher_rules, name="teacher_rules"),
    path("rules/<id:teacher>/", teacher.teacher_rules_of, name="teacher_rules_of"),
    path("rules/<id:teacher>/change/", teacher.TeacherRulesFormPage.as_view(), name="teacher_rules_change"),
    path("rules/<id:teacher>/hours/", teacher.contract_hours, name="contract_hours"),
    path("rules/<id:teacher>/meetings/new/", teacher.MeetingFormPage.as_view(), name="meeting_new"),
    path("meetings/<id:pk>/change/", teacher.MeetingFormPage.as_view(), name="meeting_change"),
    path("meetings/<id:pk>/delete/", teacher.MeetingDeletePage.as_view(), name="meeting_delete"),
]
