"""The health address: open to anyone, by GET and HEAD only."""

from django.test import Client


def test_answers_without_signing_in(client: Client, db: None) -> None:
    """A load balancer has no session."""
    answer = client.get("/health/")
    assert (answer.status_code, answer.content) == (200, b"ok\n")


def test_refuses_other_methods(client: Client, db: None) -> None:
    """Nothing is posted here."""
    assert client.post("/health/").status_code == 405
