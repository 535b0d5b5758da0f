"""What the tests of the API share."""

from typing import Any

from rest_framework.test import APIClient

from accounts.models import Person

API = "/api/1"


class Api:
    """The API as one person sees it; every answer's status is asserted."""

    def __init__(self, person: Person | None) -> None:
        self.client = APIClient(raise_request_exception=True)
        if person is not None:
            self.client.force_login(person)

    def get(self, path: str, expect: int = 200, **query: Any) -> Any:
        """GET, with a query."""
        return self._answer(self.client.get(f"{API}/{path}", query), expect)

    def post(self, path: str, expect: int = 201, **values: Any) -> Any:
        """POST as JSON."""
        return self._answer(self.client.post(f"{API}/{path}", values, format="json"), expect)

    def patch(self, path: str, expect: int = 200, **values: Any) -> Any:
        """PATCH as JSON."""
        return self._answer(self.client.patch(f"{API}/{path}", values, format="json"), expect)

    def delete(self, path: str, expect: int = 204) -> Any:
        """DELETE."""
        return self._answer(self.client.delete(f"{API}/{path}"), expect)

    def upload(self, path: str, expect: int = 201, **values: Any) -> Any:
        """POST as a form with files."""
        return self._answer(self.client.post(f"{API}/{path}", values, format="multipart"), expect)

    def _answer(self, response: Any, expect: int) -> Any:
        assert response.status_code == expect, (response.status_code, response.content[:2000])
        return response.json() if response.content else None
