"""Addresses of who serves whom: ids only, never a name."""

from django.urls import URLPattern, path

from schedule.assigning.pages import posts, runs

urlpatterns: list[URLPattern] = [
    path("assigning/", runs.assigning, name="assigning"),
    path("assigning/posts/", posts.posts, name="posts"),
    path("assigning/posts/of/<id:teacher>/new/", posts.PostFormPage.as_view(), name="post_new"),
    path("assigning/posts/<id:pk>/change/", posts.PostFormPage.as_view(), name="post_change"),
    path("assigning/posts/<id:pk>/delete/", posts.PostDeletePage.as_view(), name="post_delete"),
    path("assigning/<id:run_id>/", runs.assigning_run, name="assigning_run"),
    path("assigning/<id:run_id>/stop/", runs.assigning_stopping, name="assigning_stop"),
    path("assigning/proposals/<id:pk>/", runs.assigning_proposal, name="assigning_proposal"),
    path("assigning/proposals/<id:pk>/move/", runs.proposal_moving, name="proposal_move"),
    path("assigning/proposals/<id:pk>/take-over/", runs.proposal_taking, name="proposal_take_over"),
    path("assigning/proposals/<id:pk>/take-back/", runs.proposal_taking_back, name="proposal_take_back"),
]
