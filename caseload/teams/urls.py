"""Addresses of teams: ids only."""

from django.urls import URLPattern, path

from caseload.teams import pages

urlpatterns: list[URLPattern] = [
    path("teams/", pages.teams, name="teams"),
    path("teams/new/", pages.TeamFormPage.as_view(), name="team_new"),
    path("teams/<id:pk>/change/", pages.TeamFormPage.as_view(), name="team_change"),
    path("teams/<id:pk>/remove/", pages.TeamRemovePage.as_view(), name="team_remove"),
    path("teams/<id:pk>/take-back/", pages.team_take_back, name="team_take_back"),
]
