"""Addresses of weeks, runs of the planner and print views."""

from django.urls import URLPattern, path

from schedule.weeks.pages import edit, plan, questions, week

urlpatterns: list[URLPattern] = [
    path("week/", week.week, name="week"),
    path("week/versions/", week.versions, name="week_versions"),
    path("week/<id:week_id>/", week.week_version, name="week_version"),
    path("week/<id:week_id>/print/", week.week_print, name="week_print"),
    path("week/<id:week_id>/edit/", edit.week_edit, name="week_edit"),
    path("week/<id:week_id>/move/", edit.session_move, name="session_move"),
    path("week/<id:week_id>/pin/", edit.session_pin, name="session_pin"),
    path("week/<id:week_id>/remove/", edit.session_remove, name="session_remove"),
    path("week/<id:week_id>/place/", edit.unplaced_place, name="unplaced_place"),
    path("week/<id:week_id>/undo/", edit.edit_undo, name="week_undo"),
    path("week/<id:week_id>/compare/", edit.week_compare, name="week_compare"),
    path("week/<id:week_id>/publish/", edit.week_publish, name="week_publish"),
    path("week/<id:week_id>/restore/", edit.week_restore, name="week_restore"),
    path("week/<id:week_id>/discard/", edit.week_discard, name="week_discard"),
    path("week/<id:week_id>/rename/", questions.week_rename, name="week_rename"),
    path("week/<id:week_id>/questions/<str:kind>/", questions.week_question, name="week_question"),
    path("week/<id:week_id>/questions/<str:kind>/ask/", questions.week_question_ask, name="week_question_ask"),
    path(
        "week/<id:week_id>/questions/<str:kind>/stop/",
        questions.week_question_stop,
        name="week_question_stop",
    ),
    path("week/<id:week_id>/point/", questions.week_point_save, name="week_point_save"),
    path("plan/", plan.plan, name="plan"),
    path("plan/rest/", plan.plan_rest, name="plan_rest"),
    path("plan/runs/<id:run_id>/", plan.plan_run, name="plan_run"),
    path("plan/runs/<id:run_id>/stop/", plan.plan_run_end, name="plan_run_stop"),
]
