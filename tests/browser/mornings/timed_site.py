"""The site at a time that a test sets: `python -m tests.browser.mornings.timed_site PORT FILE`.

FILE holds a moment with its zone; before each request the clock is moved to it.
"""

import datetime as dt
import sys
from pathlib import Path
from typing import Any

import time_machine
import waitress

from config.wsgi import application


def main(port: str, clock: Path) -> None:
    """Serve until it is ended."""
    travel = time_machine.travel(dt.datetime.fromisoformat(clock.read_text()), tick=True)
    traveller = travel.start()

    def timed(environ: dict[str, Any], start_response: Any) -> Any:
        traveller.move_to(dt.datetime.fromisoformat(clock.read_text()))
        return application(environ, start_response)

    waitress.serve(timed, listen=f"127.0.0.1:{port}", threads=4)


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]))
