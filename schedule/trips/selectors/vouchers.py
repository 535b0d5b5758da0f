"""A month's vouchers: which stand, which one is next, what they claim, what became of them, what was answered."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from decimal import Decimal

from django.db.models import QuerySet

from accounts.models import Person
from schedule.trips.data import AnswerView, StepView, Sums, VoucherRow, VoucherView
from travel.mileage.entries import Entry
from travel.mileage.models import Voucher, VoucherAnswer, VoucherStep
from travel.mileage.selectors import entries_of

NO_MILES, NO_MONEY = Decimal("0.0"), Decimal("0.00")
"""Sums begin here, so that nothing is still so many tenths or cents."""
APPROVE = "mileage.approve"
Status = Voucher.Status


def month_start(date: dt.date) -> dt.date:
    """The first day of the date's month."""
    return date.replace(day=1)


def month_end(month: dt.date) -> dt.date:
    """The last day of a month."""
    return month_start(month + dt.timedelta(days=32)) - dt.timedelta(days=1)


def sums_of(entries: Iterable[Entry]) -> Sums:
    """Add lines up."""
    lines = tuple(entries)
    return Sums(
        miles=sum((one.miles for one in lines), NO_MILES),
        amount=sum((one.amount for one in lines), NO_MONEY),
        parking=sum((one.parking for one in lines), NO_MONEY),
        tolls=sum((one.tolls or NO_MONEY for one in lines), NO_MONEY),
    )


def sums_by_rate(entries: Iterable[Entry]) -> tuple[tuple[Decimal, Sums], ...]:
    """Sums of the lines of each rate, lowest first."""
    by_rate: dict[Decimal, list[Entry]] = defaultdict(list)
    for one in entries:
        by_rate[one.rate].append(one)
    return tuple((rate, sums_of(lines)) for rate, lines in sorted(by_rate.items()))


def month_vouchers(teacher: Person, month: dt.date) -> tuple[Voucher, ...]:
    """The month's vouchers in the order in which they were begun."""
    rows = Voucher.objects.filter(teacher=teacher, month=month_start(month)).select_related("submitted_by")
    return tuple(rows.order_by("number", "edition"))


def standing_of(vouchers: Iterable[Voucher]) -> list[Voucher]:
    """Those that claim something."""
    return [row for row in vouchers if row.is_standing]


def open_of(vouchers: Iterable[Voucher]) -> Voucher | None:
    """The supplement that is being prepared."""
    return next((row for row in vouchers if row.status == Status.OPEN), None)


def returned_of(vouchers: Sequence[Voucher]) -> Voucher | None:
    """The voucher that was returned last and waits to be submitted again."""
    waiting = [
        row for row in vouchers if row.number == len(standing_of(vouchers)) and row.status == Status.RETURNED
    ]
    return waiting[-1] if waiting else None


def month_is_locked(vouchers: Sequence[Voucher]) -> bool:
    """Whether a month's trips can't change: it is submitted, no supplement is open and none was returned."""
    return bool(standing_of(vouchers)) and open_of(vouchers) is None and returned_of(vouchers) is None


def next_voucher(teacher: Person, month: dt.date, vouchers: Sequence[Voucher]) -> Voucher:
    """The one that comes after those that stand, not saved; it has the next edition where one was returned."""
    standing, returned = standing_of(vouchers), returned_of(vouchers)
    number = len(standing)
    return Voucher(
        district=teacher.district,
        teacher=teacher,
        month=month_start(month),
        number=number,
        edition=1 + max((row.edition for row in vouchers if row.number == number), default=0),
        supplement_of=standing[0] if standing else None,
        reprices=returned is not None and returned.reprices,
    )


def submitted_entries(vouchers: Iterable[Voucher]) -> tuple[Entry, ...]:
    """What the vouchers that stand claim, in the order in which they were submitted."""
    return entries_of(standing_of(vouchers))


def answered_keys(vouchers: Iterable[Voucher]) -> frozenset[str]:
    """Questions that were answered with vouchers that stand."""
    rows = VoucherAnswer.objects.filter(voucher__in=[row.pk for row in standing_of(vouchers)])
    return frozenset(rows.values_list("key", flat=True))


def answers_before(vouchers: Iterable[Voucher]) -> dict[str, str]:
    """What was answered with vouchers that were returned, by key: to begin from when they are submitted again."""
    rows = VoucherAnswer.objects.filter(voucher__in=[row.pk for row in vouchers]).order_by("voucher__edition")
    return dict(rows.values_list("key", "answer"))


# ---- what became of one ------------------------------------------------------------------------------------


def steps_of(voucher: Voucher) -> tuple[VoucherStep, ...]:
    """What became of it, the first first."""
    return tuple(VoucherStep.objects.filter(voucher=voucher).select_related("by").order_by("pk"))


def steps_in_force(steps: Iterable[VoucherStep]) -> list[VoucherStep]:
    """The steps that weren't taken back, the first first."""
    kept: list[VoucherStep] = []
    for step in steps:
        if step.undoes:
            kept.pop()
        else:
            kept.append(step)
    return kept


def actions_of(viewer: Person, voucher: Voucher, steps: Sequence[VoucherStep]) -> tuple[str, ...]:
    """What a viewer may do with a voucher now: approve, return, pay, take_back, undo.

    Whoever drives and is a coordinator, too, doesn't approve the own one.
    """
    coordinator = viewer.has_perm(APPROVE) and viewer.district_id == voucher.district_id
    coordinator = coordinator and viewer.pk != voucher.teacher_id
    in_force = steps_in_force(steps)
    found = []
    if coordinator:
        found += {
            Status.SUBMITTED: ["approve", "return"],
            Status.APPROVED: ["pay", "return"],
        }.get(Status(voucher.status), [])
    if viewer.pk == voucher.teacher_id and voucher.status == Status.SUBMITTED:
        found.append("take_back")
    if in_force and (coordinator or in_force[-1].by_id == viewer.pk):
        found.append("undo")
    return tuple(found)


def _step_label(step: VoucherStep, voucher: Voucher) -> str:
    label = str(Status(step.status).label)
    if step.status == Status.RETURNED and step.by_id == voucher.teacher_id:
        label = "Taken back"
    return f"“{label}” undone" if step.undoes else label


def step_views(voucher: Voucher, steps: Iterable[VoucherStep]) -> tuple[StepView, ...]:
    """Its steps for pages, files and the API."""
    return tuple(
        StepView(one.status, _step_label(one, voucher), str(one.by), one.at, one.words, undoes=one.undoes)
        for one in steps
    )


def voucher_row(row: Voucher) -> VoucherRow:
    return VoucherRow(
        id=row.pk,
        number=row.number,
        edition=row.edition,
        label=(f"Supplement {row.number}" if row.number else "Voucher") + row.edition_words,
        teacher=str(row.teacher),
        month=row.month,
        status=row.status,
        status_label=Status(row.status).label,
        submitted_at=row.submitted_at,
        submitted_by=str(row.submitted_by or ""),
        sums=sums_of(entries_of([row])),
    )


def vouchers_to_decide(viewer: Person, status: str = "") -> QuerySet[Voucher]:
    """Submitted vouchers that the viewer may see, those that wait longest first; of one status where one is asked.

    Open supplements aren't among them.
    """
    rows = Voucher.objects.visible_to(viewer).exclude(status=Status.OPEN).select_related("teacher", "submitted_by")
    rows = rows.filter(status=status) if status else rows
    return rows.order_by("submitted_at", "pk")


def voucher_view(voucher: Voucher, viewer: Person | None = None) -> VoucherView:
    """A submitted voucher with its sums; the caller got it from `voucher_get`.

    With a viewer, also what they may do with it.
    """
    entries, steps = entries_of([voucher]), steps_of(voucher)
    return VoucherView(
        id=voucher.pk,
        teacher=str(voucher.teacher),
        district=str(voucher.district),
        month=voucher.month,
        number=voucher.number,
        edition=voucher.edition,
        status=voucher.status,
        status_label=Status(voucher.status).label,
        rules=voucher.rules,
        submitted_at=voucher.submitted_at,
        submitted_by=str(voucher.submitted_by or ""),
        entries=entries,
        sums=sums_of(entries),
        by_rate=sums_by_rate(entries),
        steps=step_views(voucher, steps),
        in_force=step_views(voucher, steps_in_force(steps)),
        answers=tuple(
            AnswerView(one.key, one.question, one.answer) for one in VoucherAnswer.objects.filter(voucher=voucher)
        ),
        actions=() if viewer is None else actions_of(viewer, voucher, steps),
    )
