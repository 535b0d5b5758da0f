"""Addresses of goals and their data: ids only, never a name."""

from django.urls import URLPattern, path

from caseload.progress.pages import goals, taking

urlpatterns: list[URLPattern] = [
    path("students/<id:student>/goals/", goals.goal_list, name="goal_list"),
    path("students/<id:student>/goals/new/", goals.GoalFormPage.as_view(), name="goal_new"),
    path("goals/<id:pk>/", goals.goal_detail, name="goal_detail"),
    path("goals/<id:pk>/change/", goals.GoalFormPage.as_view(), name="goal_change"),
    path("goals/<id:pk>/take-back/", goals.goal_take_back, name="goal_take_back"),
    path("goals/<id:pk>/read/", goals.goal_read, name="goal_read"),
    path("goals/<id:pk>/end/", goals.GoalEndPage.as_view(), name="goal_end"),
    path("goals/<id:pk>/reopen/", goals.goal_reopen, name="goal_reopen"),
    path("goals/<id:pk>/delete/", goals.GoalDeletePage.as_view(), name="goal_delete"),
    path("goals/<id:goal>/phase-changes/new/", goals.PhaseChangePage.as_view(), name="phase_change_new"),
    path("phase-changes/<id:pk>/change/", goals.PhaseChangePage.as_view(), name="phase_change_change"),
    path("phase-changes/<id:pk>/delete/", goals.PhaseChangeDeletePage.as_view(), name="phase_change_delete"),
    path("goals/rules/", goals.goal_rules, name="goal_rules"),
    path("goals/rules/new/", goals.GoalRulesPage.as_view(), name="goal_rules_new"),
    path("goals/rules/<id:pk>/change/", goals.GoalRulesPage.as_view(), name="goal_rules_change"),
    path("goals/rules/<id:pk>/delete/", goals.GoalRulesDeletePage.as_view(), name="goal_rules_delete"),
    path("data/take/", taking.data_page, name="data_take"),
    path("data/<id:pk>/take-back/", taking.data_point_undo, name="data_undo"),
    path("data/<id:pk>/count-again/", taking.data_point_restore, name="data_restore"),
]
