"""Addresses of joint sessions: ids only, never a name."""

from django.urls import URLPattern, path

from schedule.joint import pages

urlpatterns: list[URLPattern] = [
    path("services/<id:line>/together/new/", pages.JointServiceFormPage.as_view(), name="joint_service_new"),
    path("joint-sessions/<id:pk>/change/", pages.JointServiceFormPage.as_view(), name="joint_service_change"),
    path("joint-sessions/<id:pk>/delete/", pages.JointServiceDeletePage.as_view(), name="joint_service_delete"),
    path("students/<id:pk>/joint-sessions/take-back/", pages.joint_take_back, name="joint_service_take_back"),
]
