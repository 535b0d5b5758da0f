"""Pages of what a district decides about care: its caution tags, and whether parents are kept here."""

from collections.abc import Mapping
from typing import Any

from django.contrib.auth.decorators import permission_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from accounts.fields import id_read
from accounts.pages import Crumbs, RecordDeletePage, RecordFormPage, do_and_say, person_of
from caseload.care import services
from caseload.care.forms import CareSettingsForm, CautionTagForm
from caseload.care.models import CareSettings, CautionTag
from caseload.care.selectors import care_settings_of, last_tag_change, tags_listed

TAGS = "district.change"


@require_safe
def caution_tags(request: HttpRequest) -> HttpResponse:
    """The district's tags, and whether parents are kept among contacts."""
    person = person_of(request)
    if not person.has_perm("caseload.view"):
        raise PermissionDenied
    district = person.district
    context = {
        "tags": tags_listed(person),
        "last": last_tag_change(person) if person.has_perm(TAGS) else None,
        "care_settings": care_settings_of(district) if district is not None else None,
    }
    return render(request, "caseload/care/tags.html", context)


@require_POST
@permission_required(TAGS, raise_exception=True)
def caution_tags_take_back(request: HttpRequest) -> HttpResponse:
    """Undo what was done last to the tags."""
    person = person_of(request)
    seen = id_read(request.POST.get("seen", ""))
    do_and_say(request, lambda: services.caution_tag_take_back(actor=person, seen=seen), "Taken back.")
    return redirect("caution_tags")


def _crumbs() -> Crumbs:
    return [("Caution tags", reverse("caution_tags"))]


class CautionTagFormPage(RecordFormPage[CautionTag]):
    """A new tag, or another name for one."""

    model = CautionTag
    form_class = CautionTagForm
    permission = TAGS
    noun = "tag"
    intro = "What an activity or a place can have that a caution is about. The whole district uses it."

    def new_row(self) -> CautionTag:
        """For the person's district."""
        return CautionTag(district=self.person.district)

    def save(self, row: CautionTag, values: Mapping[str, Any]) -> CautionTag:
        return services.caution_tag_save(actor=self.person, row=row, values=values)

    def back(self, row: CautionTag) -> str:
        return reverse("caution_tags")

    def crumbs(self, row: CautionTag) -> Crumbs:
        return _crumbs()

    def delete_address(self, row: CautionTag) -> str:
        return reverse("caution_tag_delete", args=[row.pk])


class CautionTagDeletePage(RecordDeletePage[CautionTag]):
    """Take a tag off the list, and off every caution and activity that has it."""

    model = CautionTag
    permission = TAGS
    noun = "tag"
    can_be_undone = True

    def delete(self, row: CautionTag) -> None:
        services.caution_tag_delete(actor=self.person, row=row)

    def back(self, row: CautionTag) -> str:
        return reverse("caution_tags")

    def crumbs(self, row: CautionTag) -> Crumbs:
        return _crumbs()


class CareSettingsPage(RecordFormPage[CareSettings]):
    """Whether parents are kept among a student's contacts."""

    model = CareSettings
    form_class = CareSettingsForm
    permission = "district.settings"
    noun = "choice"
    intro = "Turned off, nobody can add a parent; those that are there stay until they are removed."

    def new_row(self) -> CareSettings:
        """The district's own."""
        if self.person.district is None:
            raise PermissionDenied
        return care_settings_of(self.person.district)

    def title(self, row: CareSettings) -> str:
        return "Parents among contacts"

    def save(self, row: CareSettings, values: Mapping[str, Any]) -> CareSettings:
        return services.care_settings_save(actor=self.person, values=values)

    def back(self, row: CareSettings) -> str:
        return reverse("caution_tags")

    def crumbs(self, row: CareSettings) -> Crumbs:
        return _crumbs()
