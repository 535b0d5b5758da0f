"""What a page may ask of the browser: nothing but what this program uses (Permissions-Policy)."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

USED = ("fullscreen", "publickey-credentials-create", "publickey-credentials-get", "screen-wake-lock")
NOT_USED = (
    "accelerometer", "autoplay", "browsing-topics", "camera", "display-capture", "encrypted-media", "geolocation",
    "gyroscope", "hid", "idle-detection", "magnetometer", "microphone", "midi", "payment", "serial", "usb",
    "xr-spatial-tracking",
)  # fmt: skip
POLICY = ", ".join([*(f"{one}=(self)" for one in USED), *(f"{one}=()" for one in NOT_USED)])


class BrowserFeaturesMiddleware:
    """Says so with every answer."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on."""
        answer = self.get_response(request)
        answer.setdefault("Permissions-Policy", POLICY)
        return answer
