"""The address of the workload page."""

from django.urls import URLPattern, path

from schedule.workload.pages import workload_page

urlpatterns: list[URLPattern] = [path("workload/", workload_page, name="workload")]
