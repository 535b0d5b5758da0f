"""Addresses of bells, calendar, classes' meetings and teachers' rules: ids only, never a name."""

from django.urls import URLPattern, path

from schedule.views import bells, buildings, calendar, teacher

urlpatterns: list[URLPattern] = [
    path("buildings/<int:pk>/", buildings.building_detail, name="building_detail"),
    path("buildings/<int:building>/days/", buildings.RotationFormPage.as_view(), name="rotation_change"),
    path("buildings/<int:building>/bells/new/", bells.BellScheduleFormPage.as_view(), name="bell_schedule_new"),
    path("bells/<int:pk>/change/", bells.BellScheduleFormPage.as_view(), name="bell_schedule_change"),
    path("bells/<int:pk>/delete/", buildings.BellScheduleDeletePage.as_view(), name="bell_schedule_delete"),
    path("buildings/<int:building>/bell-rules/new/", buildings.BellRuleFormPage.as_view(), name="bell_rule_new"),
    path("bell-rules/<int:pk>/change/", buildings.BellRuleFormPage.as_view(), name="bell_rule_change"),
    path("bell-rules/<int:pk>/delete/", buildings.BellRuleDeletePage.as_view(), name="bell_rule_delete"),
    path("spaces/<int:space>/free/new/", buildings.FreeTimeFormPage.as_view(), name="free_time_new"),
    path("free-times/<int:pk>/change/", buildings.FreeTimeFormPage.as_view(), name="free_time_change"),
    path("free-times/<int:pk>/delete/", buildings.FreeTimeDeletePage.as_view(), name="free_time_delete"),
    path(
        "classes/<int:school_class>/times/new/", buildings.ClassMeetingFormPage.as_view(), name="class_meeting_new"
    ),
    path("class-times/<int:pk>/change/", buildings.ClassMeetingFormPage.as_view(), name="class_meeting_change"),
    path("class-times/<int:pk>/delete/", buildings.ClassMeetingDeletePage.as_view(), name="class_meeting_delete"),
    path("calendar/", calendar.calendar, name="calendar"),
    path("calendar/years/new/", calendar.SchoolYearFormPage.as_view(), name="school_year_new"),
    path("calendar/years/<int:pk>/change/", calendar.SchoolYearFormPage.as_view(), name="school_year_change"),
    path(
        "calendar/years/<int:year>/marking-periods/new/",
        calendar.MarkingPeriodFormPage.as_view(),
        name="marking_period_new",
    ),
    path(
        "calendar/marking-periods/<int:pk>/change/",
        calendar.MarkingPeriodFormPage.as_view(),
        name="marking_period_change",
    ),
    path(
        "calendar/marking-periods/<int:pk>/delete/",
        calendar.MarkingPeriodDeletePage.as_view(),
        name="marking_period_delete",
    ),
    path("calendar/entries/new/", calendar.CalendarEntryFormPage.as_view(), name="calendar_entry_new"),
    path(
        "calendar/entries/<int:pk>/change/", calendar.CalendarEntryFormPage.as_view(), name="calendar_entry_change"
    ),
    path(
        "calendar/entries/<int:pk>/delete/",
        calendar.CalendarEntryDeletePage.as_view(),
        name="calendar_entry_delete",
    ),
    path("calendar/words/new/", calendar.WordRuleFormPage.as_view(), name="word_rule_new"),
    path("calendar/words/<int:pk>/change/", calendar.WordRuleFormPage.as_view(), name="word_rule_change"),
    path("calendar/words/<int:pk>/delete/", calendar.WordRuleDeletePage.as_view(), name="word_rule_delete"),
    path("rules/", teacher.teacher_rules, name="teacher_rules"),
    path("rules/<int:teacher>/", teacher.teacher_rules_of, name="teacher_rules_of"),
    path("rules/<int:teacher>/change/", teacher.TeacherRulesFormPage.as_view(), name="teacher_rules_change"),
    path("rules/<int:teacher>/hours/", teacher.contract_hours, name="contract_hours"),
    path("rules/<int:teacher>/meetings/new/", teacher.MeetingFormPage.as_view(), name="meeting_new"),
    path("meetings/<int:pk>/change/", teacher.MeetingFormPage.as_view(), name="meeting_change"),
    path("meetings/<int:pk>/delete/", teacher.MeetingDeletePage.as_view(), name="meeting_delete"),
]
