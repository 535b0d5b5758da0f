"""Addresses of roles: ids only."""

from django.urls import URLPattern, path

from accounts.roles import pages

urlpatterns: list[URLPattern] = [
    path("people/<id:person>/roles/new/", pages.RoleFormPage.as_view(), name="role_new"),
    path("roles/<id:pk>/change/", pages.RoleFormPage.as_view(), name="role_change"),
    path("roles/<id:pk>/remove/", pages.RoleRemovePage.as_view(), name="role_remove"),
    path("roles/<id:pk>/take-back/", pages.role_take_back, name="role_take_back"),
    path("work-as/", pages.role_work_as, name="role_work_as"),
]
