"""Addresses of the accounts floor."""

from django.contrib.auth.views import LogoutView
from django.urls import URLPattern, path

from accounts.sign_in.pages import ChangePasswordView, SignInView, home

urlpatterns: list[URLPattern] = [
    path("", home, name="home"),
    path("sign-in/", SignInView.as_view(), name="sign_in"),
    path("sign-out/", LogoutView.as_view(), name="sign_out"),
    path("password/", ChangePasswordView.as_view(), name="password_change"),
]
