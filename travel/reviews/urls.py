"""Addresses of reviews: ids only."""

from django.urls import URLPattern, path

from travel.reviews import pages

urlpatterns: list[URLPattern] = [
    path("reviews/", pages.reviews, name="reviews"),
    path("reviews/new/", pages.ReviewFormPage.as_view(), name="review_new"),
    path("reviews/<id:pk>/change/", pages.ReviewFormPage.as_view(), name="review_change"),
    path("reviews/<id:pk>/delete/", pages.ReviewDeletePage.as_view(), name="review_delete"),
]
