"""Somebody's browser in a few lines: cookies, and forms with their hidden fields."""

import json
import re
import time
from http.cookies import SimpleCookie
from typing import Any
from urllib.parse import urlencode

import urllib3

from tests.sides import WAIT_SECONDS

FORM = "application/x-www-form-urlencoded"


class Visitor:
    """At one site; keeps cookies and follows no redirect."""

    def __init__(self, site: str, pool: urllib3.HTTPConnectionPool | None = None) -> None:
        self.site = site
        self.cookies: SimpleCookie = SimpleCookie()
        host, _, port = site.partition("://")[2].partition(":")
        self._pool = pool or urllib3.HTTPConnectionPool(host, int(port), retries=False, timeout=WAIT_SECONDS)

    def ask(self, method: str, path: str, body: str | None = None, **headers: str) -> urllib3.BaseHTTPResponse:
        """One request."""
        kept = "; ".join(f"{name}={one.value}" for name, one in self.cookies.items())
        host = self.site.partition("://")[2]
        told = {"Host": host, **({"Cookie": kept} if kept else {}), **headers}
        answer = self._pool.request(method, path, body=body, headers=told, redirect=False)
        for line in answer.headers.getlist("set-cookie"):
            self.cookies.load(line)
        return answer

    def send(self, path: str, fields: dict[str, str], **headers: str) -> urllib3.BaseHTTPResponse:
        """Send a form as a browser does, with the token of its page."""
        page = self.ask("GET", path).data.decode()
        token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', page)
        assert token is not None, page
        body = urlencode({"csrfmiddlewaretoken": token[1], **fields})
        return self.ask("POST", path, body, **{"Content-Type": FORM, "Origin": self.site}, **headers)

    def sign_in(self, name: str, password: str, **headers: str) -> urllib3.BaseHTTPResponse:
        """Send the form of the sign-in page."""
        return self.send("/sign-in/", {"username": name, "password": password}, **headers)

    def call(self, path: str, values: dict[str, Any], **headers: str) -> urllib3.BaseHTTPResponse:
        """Send something to the API."""
        token = {"X-CSRFToken": self.cookies["csrftoken"].value, "Origin": self.site}
        return self.ask(
            "POST", f"/api/1/{path}", json.dumps(values), **{"Content-Type": "application/json"}, **token, **headers
        )

    def wait(self, path: str = "/sign-in/") -> None:
        """Until the site answers at all."""
        end = time.monotonic() + WAIT_SECONDS
        while True:
            try:
                self.ask("GET", path)
            except urllib3.exceptions.HTTPError:
                if time.monotonic() > end:
                    raise
                time.sleep(0.2)
            else:
                return
