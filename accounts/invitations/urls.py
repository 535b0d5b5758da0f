"""Addresses of invitations."""

from django.urls import URLPattern, path

from accounts.invitations import pages

urlpatterns: list[URLPattern] = [
    path("people/invitations/", pages.invitations, name="invitations"),
    path("people/invitations/send/", pages.invitations_ask, name="invitations_send"),
    path("people/<id:pk>/invitation/take-back/", pages.invitation_back, name="invitation_take_back"),
    path("invitation/<slug:uidb64>/<slug:token>/", pages.InvitationView.as_view(), name="invitation_open"),
]
