"""The site with a bare page beside it, for benchmarks/load.py: who is signed in, navigation, nothing else."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path

from config.urls import urlpatterns as of_the_site


def bare(request: HttpRequest) -> HttpResponse:
    """What any page of the program costs before it asks for anything."""
    return render(request, "base.html")


urlpatterns = [path("bare/", bare), *of_the_site]
