"""Addresses of the coming year: ids only, never a name."""

from django.urls import URLPattern, path

from schedule.next_year.pages import drafts, records, starting

urlpatterns: list[URLPattern] = [
    path("next-year/", drafts.next_year_home, name="next_year_home"),
    path("next-year/<id:pk>/", drafts.next_year, name="next_year"),
    path("next-year/<id:pk>/missing/", drafts.next_year_missing, name="next_year_missing"),
    path("next-year/<id:pk>/buildings/<id:building>/", drafts.next_year_building, name="next_year_building"),
    path("next-year/<id:pk>/change/", records.NextYearFormPage.as_view(), name="next_year_change"),
    path("next-year/<id:pk>/drop/", records.NextYearDropPage.as_view(), name="next_year_drop"),
    path("next-year/<id:next_year>/periods/new/", records.NextPeriodFormPage.as_view(), name="next_period_new"),
    path("next-year/periods/<id:pk>/change/", records.NextPeriodFormPage.as_view(), name="next_period_change"),
    path("next-year/periods/<id:pk>/delete/", records.NextPeriodDropPage.as_view(), name="next_period_delete"),
    path("next-year/<id:next_year>/days/new/", records.NextDayFormPage.as_view(), name="next_day_new"),
    path("next-year/days/<id:pk>/change/", records.NextDayFormPage.as_view(), name="next_day_change"),
    path("next-year/days/<id:pk>/delete/", records.NextDayDropPage.as_view(), name="next_day_delete"),
    path("next-year/days/<id:pk>/answer/", records.next_day_answer, name="next_day_answer"),
    path("next-year/<id:pk>/start/", starting.next_year_starting, name="next_year_start"),
    path("next-year/<id:pk>/take-back/", starting.next_year_taking_back, name="next_year_take_back"),
]
