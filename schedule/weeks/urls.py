"""Addresses of weeks, runs of the planner and print views."""

from django.urls import URLPattern, path

from schedule.weeks.pages import edit as weeks_edit
from schedule.weeks.pages import plan as weeks_plan
from schedule.weeks.pages import questions as weeks_questions
from schedule.weeks.pages import week as weeks

urlpatterns: list[URLPattern] = [
    path("week/", weeks.week, name="week"),
    path("week/versions/", weeks.versions, name="week_versions"),
    path("week/<id:week_id>/", weeks.week_version, name="week_version"),
    path("week/<id:week_id>/print/", weeks.week_print, name="week_print"),
    path("week/<id:week_id>/edit/", weeks_edit.week_edit, name="week_edit"),
    path("week/<id:week_id>/move/", weeks_edit.session_move, name="session_move"),
    path("week/<id:week_id>/pin/", weeks_edit.session_pin, name="session_pin"),
    path("week/<id:week_id>/remove/", weeks_edit.session_remove, name="session_remove"),
    path("week/<id:week_id>/place/", weeks_edit.unplaced_place, name="unplaced_place"),
    path("week/<id:week_id>/undo/", weeks_edit.edit_undo, name="week_undo"),
    path("week/<id:week_id>/compare/", weeks_edit.week_compare, name="week_compare"),
    path("week/<id:week_id>/publish/", weeks_edit.week_publish, name="week_publish"),
    path("week/<id:week_id>/restore/", weeks_edit.week_restore, name="week_restore"),
    path("week/<id:week_id>/discard/", weeks_edit.week_discard, name="week_discard"),
    path("week/<id:week_id>/rename/", weeks_questions.week_rename, name="week_rename"),
    path("week/<id:week_id>/questions/<str:kind>/", weeks_questions.week_question, name="week_question"),
    path(
        "week/<id:week_id>/questions/<str:kind>/ask/", weeks_questions.week_question_ask, name="week_question_ask"
    ),
    path(
        "week/<id:week_id>/questions/<str:kind>/stop/",
        weeks_questions.week_question_stop,
        name="week_question_stop",
    ),
    path("week/<id:week_id>/point/", weeks_questions.week_point_save, name="week_point_save"),
    path("plan/", weeks_plan.plan, name="plan"),
    path("plan/runs/<id:run_id>/", weeks_plan.plan_run, name="plan_run"),
    path("plan/runs/<id:run_id>/stop/", weeks_plan.plan_run_end, name="plan_run_stop"),
]
