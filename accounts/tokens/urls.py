"""Addresses of tokens."""

from django.urls import URLPattern, path

from accounts.tokens import pages

urlpatterns: list[URLPattern] = [
    path("sign-in/own/tokens/new/", pages.TokenPage.as_view(), name="token_new"),
    path("sign-in/own/tokens/<id:pk>/remove/", pages.token_remove_page, name="token_remove"),
]
