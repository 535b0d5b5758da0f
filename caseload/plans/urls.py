"""Addresses of the caseload floor: ids only, never a name."""

from django.urls import URLPattern, path

from caseload.plans.enrollment import pages as enrollment
from caseload.plans.finding.pages import students_found
from caseload.plans.pages import service_lines, students

urlpatterns: list[URLPattern] = [
    path("students/", students.student_list, name="student_list"),
    path("students/found/", students_found, name="students_found"),
    path("students/new/", students.StudentFormPage.as_view(), name="student_new"),
    path("students/without-plan/", students.StudentWithoutPlanPage.as_view(), name="student_without_plan"),
    path("students/<id:pk>/", students.student_detail, name="student_detail"),
    path("students/<id:pk>/change/", students.StudentFormPage.as_view(), name="student_change"),
    path("students/<id:pk>/delete/", students.StudentDeletePage.as_view(), name="student_delete"),
    path("students/hand-over/", enrollment.HandOverPage.as_view(), name="caseload_hand_over"),
    path("hand-overs/<id:pk>/take-back/", enrollment.hand_over_take_back, name="hand_over_take_back"),
    path("students/<id:student>/move/", enrollment.StudentMovePage.as_view(), name="student_move"),
    path("students/<id:student>/leave/", enrollment.StudentLeavePage.as_view(), name="student_leave"),
    path("students/<id:student>/programs/new/", enrollment.ProgramNewPage.as_view(), name="program_new"),
    path("enrollments/<id:pk>/correct/", enrollment.EnrollmentCorrectPage.as_view(), name="enrollment_correct"),
    path("enrollments/<id:pk>/take-back/", enrollment.enrollment_take_back, name="enrollment_take_back"),
    path("students/<id:student>/plans/new/", students.PlanFormPage.as_view(), name="plan_new"),
    path("plans/<id:pk>/change/", students.PlanFormPage.as_view(), name="plan_change"),
    path("plans/<id:pk>/delete/", students.PlanDeletePage.as_view(), name="plan_delete"),
    path("plans/<id:plan>/services/new/", service_lines.ServiceLineFormPage.as_view(), name="service_line_new"),
    path("services/<id:pk>/change/", service_lines.ServiceCorrectPage.as_view(), name="service_line_change"),
    path("services/<id:pk>/change-from/", service_lines.ServiceChangePage.as_view(), name="service_change"),
    path("services/<id:pk>/undo/", service_lines.service_undo, name="service_undo"),
    path("plans/<id:pk>/renew/", service_lines.PlanRenewPage.as_view(), name="plan_renew"),
    path("plans/<id:pk>/undo-renewal/", service_lines.plan_renewal_undo, name="plan_renewal_undo"),
    path("services/<id:pk>/delete/", service_lines.ServiceLineDeletePage.as_view(), name="service_line_delete"),
    path("students/<id:student>/holds/new/", students.HoldFormPage.as_view(), name="hold_new"),
    path("holds/<id:pk>/change/", students.HoldFormPage.as_view(), name="hold_change"),
    path("holds/<id:pk>/delete/", students.HoldDeletePage.as_view(), name="hold_delete"),
    path("buildings/<id:building>/classes/new/", students.ClassFormPage.as_view(), name="class_new"),
    path("classes/<id:pk>/change/", students.ClassFormPage.as_view(), name="class_change"),
    path("classes/<id:pk>/delete/", students.ClassDeletePage.as_view(), name="class_delete"),
]
