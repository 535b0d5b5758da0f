"""Addresses of the caseload floor: ids only, never a name."""

from django.urls import URLPattern, path

from caseload import views

urlpatterns: list[URLPattern] = [
    path("students/", views.student_list, name="student_list"),
    path("students/new/", views.StudentFormPage.as_view(), name="student_new"),
    path("students/without-plan/", views.StudentWithoutPlanPage.as_view(), name="student_without_plan"),
    path("students/<int:pk>/", views.student_detail, name="student_detail"),
    path("students/<int:pk>/change/", views.StudentFormPage.as_view(), name="student_change"),
    path("students/<int:pk>/delete/", views.StudentDeletePage.as_view(), name="student_delete"),
    path("students/<int:student>/plans/new/", views.PlanFormPage.as_view(), name="plan_new"),
    path("plans/<int:pk>/change/", views.PlanFormPage.as_view(), name="plan_change"),
    path("plans/<int:pk>/delete/", views.PlanDeletePage.as_view(), name="plan_delete"),
    path("plans/<int:plan>/services/new/", views.ServiceLineFormPage.as_view(), name="service_line_new"),
    path("services/<int:pk>/change/", views.ServiceLineFormPage.as_view(), name="service_line_change"),
    path("services/<int:pk>/delete/", views.ServiceLineDeletePage.as_view(), name="service_line_delete"),
    path("students/<int:student>/holds/new/", views.HoldFormPage.as_view(), name="hold_new"),
    path("holds/<int:pk>/change/", views.HoldFormPage.as_view(), name="hold_change"),
    path("holds/<int:pk>/delete/", views.HoldDeletePage.as_view(), name="hold_delete"),
    path("buildings/<int:building>/classes/new/", views.ClassFormPage.as_view(), name="class_new"),
    path("classes/<int:pk>/change/", views.ClassFormPage.as_view(), name="class_change"),
    path("classes/<int:pk>/delete/", views.ClassDeletePage.as_view(), name="class_delete"),
]
