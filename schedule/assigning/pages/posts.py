"""Pages of posts: what each teacher is employed for, from when."""

from collections.abc import Mapping
from typing import Any

from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from accounts.forms import RecordForm
from accounts.models import Person
from accounts.pages import Crumbs, ListPage, RecordDeletePage, RecordFormPage, list_page
from accounts.selectors import today_of
from schedule.assigning.forms import PostForm
from schedule.assigning.models import TeacherPost
from schedule.assigning.selectors.posts import posts_listed, teachers_to_share
from schedule.assigning.services.posts import PERMISSION, post_delete, post_save
from schedule.calendar.pages.teacher import find_teacher
from schedule.weeks.pages.request import viewer_of


@require_safe
@permission_required(PERMISSION, raise_exception=True)
def posts(request: HttpRequest) -> HttpResponse:
    """Every teacher with what holds today."""
    viewer = viewer_of(request)
    today = today_of(viewer)
    page: ListPage[Person] = list_page(request, teachers_to_share(viewer, today))
    context = {"page": page, "teachers": posts_listed(viewer, page.rows, today), "crumbs": _above()}
    return render(request, "schedule/assigning/posts.html", context)


class PostFormPage(RecordFormPage[TeacherPost]):
    """A post from a day on, or a correction of one."""

    model = TeacherPost
    form_class: type[RecordForm] = PostForm
    permission = PERMISSION
    noun = "post"
    intro = "It counts in proposals for who serves whom. Weeks, caseloads and contract hours stay as they are."

    def new_row(self) -> TeacherPost:
        """Of the teacher in the address, with what holds until then."""
        teacher = find_teacher(self.person, self.kwargs["teacher"])
        return TeacherPost(teacher=teacher, district=self.person.district)

    def initial(self) -> dict[str, Any]:
        """What holds now, from today."""
        today = today_of(self.person)
        teacher = find_teacher(self.person, self.kwargs["teacher"])
        (listed,) = posts_listed(self.person, [teacher], today)
        kept = listed.row
        base = kept.base if kept is not None else None
        never = list(kept.not_at.all()) if kept is not None else []
        return {
            "first_day": today,
            "share": listed.now.share,
            "base": base,
            "field": listed.now.field,
            "not_at": never,
        }

    def title(self, row: TeacherPost) -> str:
        """Whose."""
        return f"Correct a post of {row.teacher}" if row.pk else f"Post of {row.teacher}"

    def save(self, row: TeacherPost, values: Mapping[str, Any]) -> TeacherPost:
        """From its first day."""
        return post_save(actor=self.person, row=row, values=values)

    def delete_address(self, row: TeacherPost) -> str:
        """Where it is deleted."""
        return reverse("post_delete", args=[row.pk])

    def back(self, row: TeacherPost) -> str:
        """All posts."""
        return reverse("posts")

    def crumbs(self, row: TeacherPost) -> Crumbs:
        """Who serves whom, then all posts."""
        return [*_above(), ("Posts", reverse("posts"))]


class PostDeletePage(RecordDeletePage[TeacherPost]):
    """A post that was entered wrong; the one before goes on."""

    model = TeacherPost
    permission = PERMISSION
    noun = "post"

    def delete(self, row: TeacherPost) -> None:
        """By the service."""
        post_delete(actor=self.person, row=row)

    def back(self, row: TeacherPost) -> str:
        """All posts."""
        return reverse("posts")

    def crumbs(self, row: TeacherPost) -> Crumbs:
        """Who serves whom, then all posts."""
        return [*_above(), ("Posts", reverse("posts"))]


def _above() -> Crumbs:
    return [("Who serves whom", reverse("assigning"))]
