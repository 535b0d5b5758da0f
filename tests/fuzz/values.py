"""What a careless hand, a broken program or an attacker sends where a number, a date or a word is asked for."""

from hypothesis import strategies as st

LARGEST_ID = 2**63 - 1
NUMBERS = (
    *("0", "-1", "1", "32768", "2147483648", "-9223372036854775809", "1.5", "1e3", "1e400", "NaN", "-Infinity"),
    *(str(LARGEST_ID), str(LARGEST_ID + 1), "1" * 20, "9" * 25, "9" * 5000, "1_000", "0x10", " 7 ", "٣", "²", "½"),
)
DATES = (
    *("0001-01-01", "9999-12-31", "0000-00-00", "2026-02-30", "10000-01-01", "1949-12-31", "1950-01-01"),
    *(
        "2150-12-31",
        "2151-01-01",
        "20260914",
        "2026-W01-1",
        "12/31/9999",
        "0001-01",
        "9999-12",
        "2026-13",
        "1950-01",
    ),
    *("2150-12", "-2026-01-01", "٢٠٢٦-٠٩-١٤", "0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00"),
)
TIMES = (
    "00:00",
    "23:59",
    "24:00",
    "25:61",
    "23:59:59.999999",
    "00:00:00.000001",
    "8",
    "8:30 pm",
    "08:30Z",
    "-1:00",
)
TEXTS = (
    *(
        "",
        " ",
        "\x00",
        "a\x00b",
        "\u202e",
        "\ufeff",
        "\r\n",
        "<script>",
        "{{ 7 }}",
        "%s %(a)s %",
        "\\",
        "'\"--",
        "/../",
    ),
    *("x" * 70_000, "é" * 300, "\U0001f3eb" * 300, "null", "None", "[]", "{}", "a|b|c", "|||", "&=&", "¼", "İ"),
    *("2026-09-14|08:30|1", "9999-12-31|23:59|", "0001-01-01|00:00|" + "9" * 25, "2026-09-14|08:30+14:00|1"),
)
# Percent-encoded bytes that are no UTF-8: a lone surrogate, an overlong NUL, a broken sequence.
BAD_ENCODINGS = ("%ff%fe", "%ed%a0%80", "%c0%80", "%e2%82", "%", "%zz")


CONTENT_TYPES = (
    "text/plain",
    "application/json",
    "application/x-www-form-urlencoded; charset=nothing",
    "multipart/form-data; boundary=x",
    "multipart/form-data",
)
# The first that come to mind, for the walk that leaves no field out.
EXTREMES = {
    "date": ("0001-01-01", "9999-12-31", "2026-02-30"),
    "time": ("23:59", "00:00:00.000001", "24:00"),
    "number": ("-1", "2147483648", "9" * 25, "1.5", "NaN"),
    "select": ("0", "-1", "9" * 25, "x"),
    "hidden": ("", "9" * 25, "-1", "9999-12-31", "a\x00b"),
    "checkbox": ("no", "9" * 25),
    "radio": ("", "x\x00"),
    "submit": ("",),
}
ANY_EXTREME = ("", "a\x00b", "9" * 25, "x" * 3000, "9999-12-31", "0001-01", "9999-12", "-1", "½")


def hostile_words() -> st.SearchStrategy[str]:
    """A value for any field."""
    listed = st.sampled_from((*NUMBERS, *DATES, *TIMES, *TEXTS))
    made = st.one_of(
        st.text(max_size=40),
        st.integers().map(str),
        st.dates().map(str),
        st.times().map(str),
        st.datetimes().map(str),
        st.floats().map(str),
        st.uuids().map(str),
    )
    return st.one_of(listed, listed, made)


def hostile_files() -> st.SearchStrategy[bytes]:
    """The content of an upload."""
    rows = st.lists(st.lists(hostile_words(), max_size=6).map(",".join), max_size=6).map("\n".join)
    events = st.lists(
        st.tuples(st.sampled_from(("SUMMARY", "DTSTART", "DTEND", "RRULE", "UID", "DURATION")), hostile_words()),
        max_size=5,
    ).map(lambda lines: "\r\n".join(f"{name}:{value}" for name, value in lines))
    calendar = events.map(
        lambda body: f"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nBEGIN:VEVENT\r\n{body}\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"
    )
    return st.one_of(
        st.binary(max_size=200),
        rows.map(lambda text: text.encode("utf-8", "surrogatepass")),
        rows.map(lambda text: text.encode("utf-16", "surrogatepass")),
        calendar.map(lambda text: text.encode("utf-8", "surrogatepass")),
        st.just(b"PK\x03\x04" + b"\x00" * 100),
    )
