"""Addresses of terms and their standing timetables."""

from django.urls import URLPattern, path

from schedule.terms.pages import curve as choices
from schedule.terms.pages import terms as pages

urlpatterns: list[URLPattern] = [
    path("term/", pages.terms, name="terms"),
    path("term/plan/", pages.term_plan, name="term_plan"),
    path("term/<id:term_id>/", pages.term, name="term"),
    path("term/<id:term_id>/print/", pages.term_print, name="term_print"),
    path("term/<id:term_id>/publish/", pages.term_publish, name="term_publish"),
    path("term/<id:term_id>/publish-timetable/", pages.standing_publish, name="standing_publish"),
    path("term/<id:term_id>/way/", pages.term_way, name="term_way"),
    path("term/<id:term_id>/curve/", choices.curve, name="term_curve"),
    path("term/<id:term_id>/curve/stop/", choices.curve_stop, name="term_curve_stop"),
    path("term/<id:term_id>/curve/take/", choices.point_take, name="term_point_take"),
    path("term/<id:term_id>/take-back/", pages.term_take_back, name="term_take_back"),
]
