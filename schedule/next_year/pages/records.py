"""Forms of a draft: its days, its marking periods, its special days."""

from collections.abc import Mapping
from typing import Any

from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from accounts.pages import Crumbs, RecordDeletePage, RecordFormPage, do_and_say, find_changeable, person_of
from schedule.next_year.forms import NextDayForm, NextPeriodForm, NextYearForm
from schedule.next_year.models import NextYear, NextYearDay, NextYearPeriod, NextYearRow
from schedule.next_year.pages.drafts import crumbs_of
from schedule.next_year.services import drafting
from schedule.next_year.services.drafting import PERMISSION


class _AboutYear:
    """Where the pages of a draft itself belong."""

    model = NextYear
    permission = PERMISSION
    noun = "next year"

    def back(self, row: NextYear) -> str:
        return reverse("next_year", args=[row.pk])

    def crumbs(self, row: NextYear) -> Crumbs:
        return crumbs_of(row)


class NextYearFormPage(_AboutYear, RecordFormPage[NextYear]):
    """Another name, first or last day."""

    form_class = NextYearForm

    def save(self, row: NextYear, values: Mapping[str, Any]) -> NextYear:
        return drafting.next_year_save(actor=self.person, row=row, values=values)


class NextYearDropPage(_AboutYear, RecordDeletePage[NextYear]):
    """Drop a draft."""

    def delete(self, row: NextYear) -> None:
        drafting.next_year_delete(actor=self.person, row=row)

    def after(self, row: NextYear) -> str:
        """There is no page of it anymore."""
        return reverse("next_year_home")


class _InYear:
    """Where the pages of what is said in a draft belong."""

    permission = PERMISSION

    def back(self, row: NextYearRow) -> str:
        return reverse("next_year", args=[row.next_year.pk])

    def crumbs(self, row: NextYearRow) -> Crumbs:
        return crumbs_of(row.next_year)


class NextPeriodFormPage(_InYear, RecordFormPage[NextYearPeriod]):
    """A marking period."""

    model = NextYearPeriod
    form_class = NextPeriodForm
    noun = "marking period"

    def new_row(self) -> NextYearPeriod:
        """Of the draft that the address names."""
        return NextYearPeriod(next_year=find_changeable(NextYear, self.person, self.kwargs["next_year"]))

    def save(self, row: NextYearPeriod, values: Mapping[str, Any]) -> NextYearPeriod:
        return drafting.next_period_save(actor=self.person, row=row, values=values)

    def delete_address(self, row: NextYearPeriod) -> str:
        """Its page to remove it."""
        return reverse("next_period_delete", args=[row.pk])


class NextPeriodDropPage(_InYear, RecordDeletePage[NextYearPeriod]):
    """Remove a marking period."""

    model = NextYearPeriod
    noun = "marking period"

    def delete(self, row: NextYearPeriod) -> None:
        drafting.next_period_delete(actor=self.person, row=row)


class NextDayFormPage(_InYear, RecordFormPage[NextYearDay]):
    """A special day."""

    model = NextYearDay
    form_class = NextDayForm
    noun = "special day"

    def new_row(self) -> NextYearDay:
        """Of the draft that the address names."""
        return NextYearDay(next_year=find_changeable(NextYear, self.person, self.kwargs["next_year"]))

    def save(self, row: NextYearDay, values: Mapping[str, Any]) -> NextYearDay:
        return drafting.next_day_save(actor=self.person, row=row, values=values)

    def delete_address(self, row: NextYearDay) -> str:
        """Its page to remove it."""
        return reverse("next_day_delete", args=[row.pk])


class NextDayDropPage(_InYear, RecordDeletePage[NextYearDay]):
    """Remove a special day."""

    model = NextYearDay
    noun = "special day"

    def delete(self, row: NextYearDay) -> None:
        drafting.next_day_delete(actor=self.person, row=row)


@require_POST
@permission_required(PERMISSION, raise_exception=True)
def next_day_answer(request: HttpRequest, pk: int) -> HttpResponse:
    """Next year too, or not."""
    viewer = person_of(request)
    row = find_changeable(NextYearDay, viewer, pk)
    answer = NextYearDay.Answer.KEPT if request.POST.get("answer") == "kept" else NextYearDay.Answer.LEFT_OUT
    do_and_say(request, lambda: drafting.next_day_save(actor=viewer, row=row, values={"answer": answer}))
    return redirect(f"{reverse('next_year', args=[row.next_year_id])}#days")
