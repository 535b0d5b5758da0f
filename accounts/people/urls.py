"""Addresses of people and substitutions: ids only, never a name."""

from django.urls import URLPattern, path

from accounts.people import pages

urlpatterns: list[URLPattern] = [
    path("people/", pages.people, name="people"),
    path("people/new/", pages.PersonFormPage.as_view(), name="person_new"),
    path("people/<id:pk>/change/", pages.PersonFormPage.as_view(), name="person_change"),
    path("people/<id:pk>/password/", pages.person_password, name="person_password"),
    path("people/<id:pk>/link/", pages.person_link, name="person_link"),
    path("people/<id:pk>/active/", pages.person_active, name="person_active"),
    path("covers/new/", pages.SubstitutionFormPage.as_view(), name="substitution_new"),
    path("covers/<id:pk>/change/", pages.SubstitutionFormPage.as_view(), name="substitution_change"),
    path("covers/<id:pk>/delete/", pages.SubstitutionDeletePage.as_view(), name="substitution_delete"),
]
