"""Pictures that a teacher adds to a station: which kinds are taken, told by their first bytes."""

PICTURE_KINDS = ("image/png", "image/jpeg", "image/webp")


def picture_kind(data: bytes) -> str:
    """PNG (W3C), JPEG (ITU-T T.81) or WebP (RFC 9649) by the bytes that each begins with; else empty."""
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    if data.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "image/webp"
    return ""


def picture_problem(data: bytes, kind: str, most_bytes: int) -> str:
    """What is wrong with a picture, with the remedy; empty where nothing is."""
    if len(data) > most_bytes:
        return f"The picture has more than {most_bytes // 1000} KB. Make it smaller and add it again."
    if not kind or picture_kind(data) != kind:
        return "This is no picture that the cards can print. Add a PNG, JPEG or WebP file."
    return ""
