"""Addresses of people and covers: ids only, never a name."""

from django.urls import URLPattern, path

from travel import people_views

urlpatterns: list[URLPattern] = [
    path("people/", people_views.people, name="people"),
    path("people/new/", people_views.PersonFormPage.as_view(), name="person_new"),
    path("people/<id:pk>/change/", people_views.PersonFormPage.as_view(), name="person_change"),
    path("people/<id:pk>/password/", people_views.person_password, name="person_password"),
    path("people/<id:pk>/active/", people_views.person_active, name="person_active"),
    path("covers/new/", people_views.SubstitutionFormPage.as_view(), name="substitution_new"),
    path("covers/<id:pk>/change/", people_views.SubstitutionFormPage.as_view(), name="substitution_change"),
    path("covers/<id:pk>/delete/", people_views.SubstitutionDeletePage.as_view(), name="substitution_delete"),
]
