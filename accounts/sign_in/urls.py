"""Addresses of the accounts floor."""

from django.contrib.auth.views import LogoutView
from django.urls import URLPattern, path

from accounts.sign_in.pages import ChangePasswordView, ForgotPasswordView, PasswordLinkView, SignInView, home

urlpatterns: list[URLPattern] = [
    path("", home, name="home"),
    path("sign-in/", SignInView.as_view(), name="sign_in"),
    path("sign-out/", LogoutView.as_view(), name="sign_out"),
    path("password/", ChangePasswordView.as_view(), name="password_change"),
    path("password/forgot/", ForgotPasswordView.as_view(), name="password_forgot"),
    path("password/link/<slug:uidb64>/<slug:token>/", PasswordLinkView.as_view(), name="password_link"),
]
