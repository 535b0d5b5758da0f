"""Goals of a student: the list, one goal with its chart, adding, changing, ending, phase changes, rules."""

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import PermissionDenied, ValidationError
from django.db import models
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from accounts.dates import date_words
from accounts.fields import id_read
from accounts.pages import (
    Crumbs,
    RecordDeletePage,
    RecordFormPage,
    do_and_say,
    find_changeable,
    find_visible,
    person_of,
    seen_only,
)
from accounts.selectors import today_of
from caseload.plans.models import Student
from caseload.plans.pages.named import AboutStudent
from caseload.plans.pages.students import student_crumbs
from caseload.progress import services
from caseload.progress.forms import GoalEndForm, GoalForm, GoalRulesForm, PhaseChangeForm
from caseload.progress.hooks import practice_of
from caseload.progress.models import GoalRules, PhaseChange, StudentGoal
from caseload.progress.points import DECISION_SOURCES, DECISION_WORDS
from caseload.progress.selectors.goals import goal_rules_on, goal_words, goals_listed, last_goal_change
from caseload.progress.selectors.story import goal_story
from caseload.progress.services.goals import CHANGE, RULES

VIEW = "caseload.view"


def goals_page(student: Student) -> str:
    """Address of a student's goals."""
    return reverse("goal_list", args=[student.pk])


def goal_page(goal: StudentGoal) -> str:
    """Address of a goal."""
    return reverse("goal_detail", args=[goal.pk])


def goal_crumbs(goal: StudentGoal) -> Crumbs:
    """The student, the student's goals, and the goal once there is one."""
    above = [*student_crumbs(goal.student), ("Goals", goals_page(goal.student))]
    return [*above, ("Goal", goal_page(goal))] if goal.pk else above


def _viewer(request: HttpRequest) -> Any:
    person = person_of(request)
    if not person.has_perm(VIEW):
        raise PermissionDenied
    return person


@require_safe
def goal_list(request: HttpRequest, student: int) -> HttpResponse:
    """A student's goals."""
    person = _viewer(request)
    row = find_visible(Student, person, student)
    today = today_of(person)
    listed = goals_listed(row)
    context = {
        "student": row,
        "now": [one for one in listed if one.goal.last_day >= today],
        "past": [one for one in listed if one.goal.last_day < today],
        "today": today,
        "crumbs": student_crumbs(row),
        **seen_only(person, row),
    }
    return render(request, "caseload/progress/goal_list.html", context)


@require_safe
def goal_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """One goal: what it asks, its chart, what the data say, the data."""
    person = _viewer(request)
    goal = find_visible(StudentGoal, person, pk)
    today = today_of(person)
    story = goal_story(goal, today)
    context = {
        "goal": goal,
        "student": goal.student,
        "story": story,
        "today": today,
        "objectives": [(one, goal_words(one)) for one in goal.objectives.all()],
        "practice": practice_of(person, goal),
        "last": last_goal_change(goal) if person.has_perm(CHANGE) else None,
        "rule": DECISION_WORDS[story.rule],
        "rule_source": DECISION_SOURCES[story.rule],
        "crumbs": [*student_crumbs(goal.student), ("Goals", goals_page(goal.student))],
        **seen_only(person, goal),
    }
    return render(request, "caseload/progress/goal_detail.html", context)


class AboutGoal(AboutStudent):
    """A page about a goal: its title has the student's initials."""

    def in_title(self, row: models.Model) -> str:
        """Those of the student whose goal it is."""
        goal = row.goal if isinstance(row, PhaseChange) else row
        return super().in_title(goal.student if isinstance(goal, StudentGoal) else goal)


class GoalFormPage(AboutGoal, RecordFormPage[StudentGoal]):
    """A new goal as the plan writes it, or a change to one."""

    model = StudentGoal
    form_class = GoalForm
    template_name = "caseload/progress/goal_form.html"
    permission = CHANGE
    noun = "goal"
    intro = (
        "Type the goal as the plan writes it, such as “will catch a bounced ball in 4 of 5 trials over 3 sessions”."
        " What can be counted is read from it; fill in the rest only where it reads otherwise."
    )

    def new_row(self) -> StudentGoal:
        """For the student that the address names."""
        return StudentGoal(student=find_changeable(Student, self.person, self.kwargs["student"]))

    def initial(self) -> dict[str, Any]:
        """From today; under a goal, if the page came from one."""
        asked = self.request.GET.get("under", "")
        return {"start": today_of(self.person), "parent": asked if asked.isdecimal() else None}

    def save(self, row: StudentGoal, values: Mapping[str, Any]) -> StudentGoal:
        return services.goal_save(actor=self.person, row=row, values=values)

    def saved_message(self, row: StudentGoal) -> str:
        """With what the text was read as."""
        words = goal_words(row)
        if words:
            return f"The goal is saved. Read as: {words}."
        return "The goal is saved as you typed it. Say below how it is measured."

    def back(self, row: StudentGoal) -> str:
        return goal_page(row) if row.pk else goals_page(row.student)

    def crumbs(self, row: StudentGoal) -> Crumbs:
        return goal_crumbs(row)

    def delete_address(self, row: StudentGoal) -> str:
        return "" if row.data.exists() else reverse("goal_delete", args=[row.pk])


class GoalDeletePage(AboutGoal, RecordDeletePage[StudentGoal]):
    """Delete a goal on which no data were taken."""

    model = StudentGoal
    permission = CHANGE
    noun = "goal"

    def delete(self, row: StudentGoal) -> None:
        services.goal_delete(actor=self.person, row=row)

    def label(self, row: StudentGoal) -> str:
        return row.text

    def back(self, row: StudentGoal) -> str:
        return goal_page(row)

    def after(self, row: StudentGoal) -> str:
        return goals_page(row.student)

    def crumbs(self, row: StudentGoal) -> Crumbs:
        return goal_crumbs(row)


class GoalEndPage(AboutGoal, RecordFormPage[StudentGoal]):
    """End a goal before its day."""

    model = StudentGoal
    form_class = GoalEndForm
    permission = CHANGE
    noun = "goal"
    intro = "No data are taken on it after this day. Its chart stays, and ending it can be taken back."

    def title(self, row: StudentGoal) -> str:
        return "End goal"

    def save(self, row: StudentGoal, values: Mapping[str, Any]) -> StudentGoal:
        return services.goal_end(actor=self.person, row=row, values=values)

    def saved_message(self, row: StudentGoal) -> str:
        return f"The goal ended on {date_words(row.last_day)}."

    def back(self, row: StudentGoal) -> str:
        return goal_page(row)

    def crumbs(self, row: StudentGoal) -> Crumbs:
        return goal_crumbs(row)


class PhaseChangePage(AboutGoal, RecordFormPage[PhaseChange]):
    """Something about the teaching changes from a day on."""

    model = PhaseChange
    form_class = PhaseChangeForm
    permission = CHANGE
    noun = "phase change"
    intro = "Data before and after stand apart on the chart, and the trend is that of the last phase."

    def new_row(self) -> PhaseChange:
        """For the goal that the address names."""
        return PhaseChange(goal=find_changeable(StudentGoal, self.person, self.kwargs["goal"]))

    def initial(self) -> dict[str, Any]:
        """From today, unless somebody says otherwise."""
        return {"day": today_of(self.person)}

    def save(self, row: PhaseChange, values: Mapping[str, Any]) -> PhaseChange:
        return services.phase_change_save(actor=self.person, row=row, values=values)

    def back(self, row: PhaseChange) -> str:
        return goal_page(row.goal)

    def crumbs(self, row: PhaseChange) -> Crumbs:
        return goal_crumbs(row.goal)

    def delete_address(self, row: PhaseChange) -> str:
        return reverse("phase_change_delete", args=[row.pk])


class PhaseChangeDeletePage(AboutGoal, RecordDeletePage[PhaseChange]):
    """Take a phase change back."""

    model = PhaseChange
    permission = CHANGE
    noun = "phase change"

    def delete(self, row: PhaseChange) -> None:
        services.phase_change_delete(actor=self.person, row=row)

    def back(self, row: PhaseChange) -> str:
        return goal_page(row.goal)

    def crumbs(self, row: PhaseChange) -> Crumbs:
        return goal_crumbs(row.goal)


@require_POST
@permission_required(CHANGE, raise_exception=True)
def goal_read(request: HttpRequest, pk: int) -> HttpResponse:
    """Which of its readings a goal's text has."""
    person = person_of(request)
    goal = find_changeable(StudentGoal, person, pk)
    try:
        saved = services.goal_read(actor=person, row=goal, reading=request.POST.get("reading", ""))
    except ValidationError as error:
        for text in error.messages:
            messages.error(request, text)
    else:
        messages.success(request, f"Read as: {goal_words(saved)}.")
    return redirect(goal_page(goal))


@require_POST
@permission_required(CHANGE, raise_exception=True)
def goal_take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Undo the last change of a goal."""
    person = person_of(request)
    goal, seen = find_changeable(StudentGoal, person, pk), id_read(request.POST.get("seen", ""))
    do_and_say(request, lambda: services.goal_take_back(actor=person, row=goal, seen=seen), "Taken back.")
    return redirect(goal_page(goal))


@require_POST
@permission_required(CHANGE, raise_exception=True)
def goal_reopen(request: HttpRequest, pk: int) -> HttpResponse:
    """Take an end back."""
    person = person_of(request)
    goal = find_changeable(StudentGoal, person, pk)
    services.goal_reopen(actor=person, row=goal)
    messages.success(request, "Data are taken on this goal again.")
    return redirect(goal_page(goal))


# ---- rules ---------------------------------------------------------------------------------------------------


@require_safe
def goal_rules(request: HttpRequest) -> HttpResponse:
    """The district's rules for goals, by date."""
    person = _viewer(request)
    today = today_of(person)
    context = {
        "rows": GoalRules.objects.visible_to(person),
        "now": goal_rules_on(person.district, today),
        "sources": [(words, DECISION_SOURCES[rule]) for rule, words in DECISION_WORDS.items()],
    }
    return render(request, "caseload/progress/goal_rules.html", context)


class GoalRulesPage(RecordFormPage[GoalRules]):
    """New rules from a day on, or a change to some."""

    model = GoalRules
    form_class = GoalRulesForm
    permission = RULES
    noun = "rules for goals"

    def new_row(self) -> GoalRules:
        return GoalRules(district=self.person.district)

    def title(self, row: GoalRules) -> str:
        return "Change rules for goals" if row.pk else "Rules for goals from a day on"

    def initial(self) -> dict[str, Any]:
        """From today."""
        return {"first_day": today_of(self.person)}

    def save(self, row: GoalRules, values: Mapping[str, Any]) -> GoalRules:
        return services.goal_rules_save(actor=self.person, row=row, values=values)

    def saved_message(self, row: GoalRules) -> str:
        return "The rules are saved."

    def back(self, row: GoalRules) -> str:
        return reverse("goal_rules")

    def crumbs(self, row: GoalRules) -> Crumbs:
        return [("Rules for goals", reverse("goal_rules"))]

    def delete_address(self, row: GoalRules) -> str:
        return reverse("goal_rules_delete", args=[row.pk])


class GoalRulesDeletePage(RecordDeletePage[GoalRules]):
    """Let the rules before hold on."""

    model = GoalRules
    permission = RULES
    noun = "rules for goals"

    def delete(self, row: GoalRules) -> None:
        services.goal_rules_delete(actor=self.person, row=row)

    def back(self, row: GoalRules) -> str:
        return reverse("goal_rules")

    def crumbs(self, row: GoalRules) -> Crumbs:
        return [("Rules for goals", reverse("goal_rules"))]
