"""A process of its own that sends: ``python -m tests.accounts.side_sending ACTION NUMBER MOMENT``.

`prepare` makes somebody; `send` waits for the moment, sends what every other process sends, under the same key, and
prints the id of what it made.
"""

import sys
import time

import django

django.setup()

# Rows can be imported only once Django is set up.
from django.test import Client  # noqa: E402 -- see above

from accounts.models import Person  # noqa: E402 -- see above
from tests.browser.today import DRIVER, make_today  # noqa: E402 -- see above

SENT = {"kind": "away", "first_date": "2026-09-14"}


def main(action: str, number: str, moment: str) -> None:
    """Wait for the moment, act, print."""
    if action == "prepare":
        make_today()
        sys.stdout.write("ready")
        return
    client = Client(headers={"host": "localhost"})
    client.force_login(Person.objects.get(username=DRIVER))
    time.sleep(max(float(moment) - time.time(), 0))
    answer = client.post(
        "/api/1/happenings/", SENT, content_type="application/json", headers={"Idempotency-Key": '"one-key-of-all"'}
    )
    sys.stdout.write(f"{answer.status_code} {answer.json()['id']}")


if __name__ == "__main__":
    main(*sys.argv[1:])
