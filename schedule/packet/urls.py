"""Addresses of packets: ids and secrets only, never a name."""

from django.urls import URLPattern, path

from schedule.packet import pages

urlpatterns: list[URLPattern] = [
    path("packet/", pages.packet, name="packet"),
    path("packet/links/new/", pages.packet_link_new, name="packet_link_new"),
    path("packet/links/<id:pk>/stop/", pages.packet_link_stop_page, name="packet_link_stop"),
    path("packets/<slug:secret>/", pages.packet_open, name="packet_open"),
]
