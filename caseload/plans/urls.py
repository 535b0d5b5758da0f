"""Addresses of the caseload floor: ids only, never a name."""

from django.urls import URLPattern, path

from caseload.plans.pages import students as views

urlpatterns: list[URLPattern] = [
    path("students/", views.student_list, name="student_list"),
    path("students/new/", views.StudentFormPage.as_view(), name="student_new"),
    path("students/without-plan/", views.StudentWithoutPlanPage.as_view(), name="student_without_plan"),
    path("students/<id:pk>/", views.student_detail, name="student_detail"),
    path("students/<id:pk>/change/", views.StudentFormPage.as_view(), name="student_change"),
    path("students/<id:pk>/delete/", views.StudentDeletePage.as_view(), name="student_delete"),
    path("students/<id:student>/plans/new/", views.PlanFormPage.as_view(), name="plan_new"),
    path("plans/<id:pk>/change/", views.PlanFormPage.as_view(), name="plan_change"),
    path("plans/<id:pk>/delete/", views.PlanDeletePage.as_view(), name="plan_delete"),
    path("plans/<id:plan>/services/new/", views.ServiceLineFormPage.as_view(), name="service_line_new"),
    path("services/<id:pk>/change/", views.ServiceLineFormPage.as_view(), name="service_line_change"),
    path("services/<id:pk>/delete/", views.ServiceLineDeletePage.as_view(), name="service_line_delete"),
    path("students/<id:student>/holds/new/", views.HoldFormPage.as_view(), name="hold_new"),
    path("holds/<id:pk>/change/", views.HoldFormPage.as_view(), name="hold_change"),
    path("holds/<id:pk>/delete/", views.HoldDeletePage.as_view(), name="hold_delete"),
    path("buildings/<id:building>/classes/new/", views.ClassFormPage.as_view(), name="class_new"),
    path("classes/<id:pk>/change/", views.ClassFormPage.as_view(), name="class_change"),
    path("classes/<id:pk>/delete/", views.ClassDeletePage.as_view(), name="class_delete"),
]
