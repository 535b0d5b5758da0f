"""The addresses of the attention page."""

from django.urls import URLPattern, path

from schedule.attention import pages as attention

urlpatterns: list[URLPattern] = [
    path("attention/", attention.attention_page, name="attention"),
    path("attention/plan/", attention.plan_shared, name="attention_plan"),
]
