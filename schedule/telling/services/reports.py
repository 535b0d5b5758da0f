"""Progress reports: begun with drafted sentences, worded, read, signed, opened again, removed and brought back.

Each raises `ValidationError` by field, or `ApplicationError`: 403 for the role, 404 for what is out of sight, 409
with a code that says what is in the way. `now` is aware.
"""

import datetime as dt
from collections.abc import Collection, Mapping
from dataclasses import asdict
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F

from accounts.dates import date_words
from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import NOT_THERE, audit_write, permission_require
from caseload.plans.models import Student
from schedule.telling.drafting import Drafted, family_drafts, team_drafts
from schedule.telling.models import ProgressReport, ReportSentence
from schedule.telling.models.report import LONGEST
from schedule.telling.selectors.facts import report_facts
from schedule.telling.selectors.reports import drawings_of, family_grade, shown_sentences

WRITE = "caseload.change"
CHANGED = "Somebody else changed this report in the meantime, so nothing was saved. Look at it again."
SIGNED = "This report is signed. Open it again before you change it."
FUTURE = "These dates haven't begun. A report is begun once there is something to tell."
UNREAD = "{count} of its parts nobody has read yet. Read each one, mark it as read, and sign then."

type Words = Mapping[int, str]
"""Texts by the sentence's id."""


def report_begin(
    *,
    actor: Person,
    student: Student,
    kind: str,
    name: str,
    first_day: dt.date,
    last_day: dt.date,
    today: dt.date,
    family_language: str = ProgressReport.Language.ENGLISH,
) -> ProgressReport:
    """Begin a report: figures up to `today` at most, and sentences drafted from them that nobody has read."""
    permission_require(actor, WRITE)
    if not Student.objects.changeable_by(actor).filter(pk=student.pk).exists():
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    if first_day > today:
        raise ValidationError({"first_day": FUTURE})
    report = ProgressReport(
        student=student,
        kind=kind,
        name=name.strip(),
        first_day=first_day,
        last_day=last_day,
        family_language=family_language,
        created_by=actor,
    )
    with transaction.atomic():
        report.full_clean(exclude=["content"])
        report.save()
        _sentences_draft(actor, report, today)
        _audit(actor, report, "progress_report_begin", {})
    return report


def sentences_save(
    *,
    actor: Person,
    report: ProgressReport,
    words: Words,
    read: Collection[int],
    expected_revision: int,
    now: dt.datetime,
) -> ProgressReport:
    """Word sentences and say which of them were read; who words one has read it."""
    with transaction.atomic():
        row = _open_row(actor, report, expected_revision)
        known = {one.pk: one for one in shown_sentences(row)}
        if set(words) - set(known):
            raise ApplicationError(NOT_THERE, code="not_found", status=404)
        problems = {
            f"text-{pk}": f"At most {LONGEST} characters." for pk, text in words.items() if len(text) > LONGEST
        }
        if problems:
            raise ValidationError(problems)
        for pk, text in words.items():
            _word(actor, known[pk], text.strip(), is_read=pk in read, now=now)
        _audit(actor, row, "progress_report_word", {"sentences": [None, sorted(words)]})
    return row


def _word(actor: Person, sentence: ReportSentence, text: str, *, is_read: bool, now: dt.datetime) -> None:
    # A form sends line ends of its own kind; they are no edit.
    text = text.replace("\r\n", "\n")
    edited = text != sentence.text
    if edited or is_read:
        stays = sentence.read_at is not None and not edited
        sentence.read_by, sentence.read_at = (sentence.read_by, sentence.read_at) if stays else (actor, now)
    else:
        sentence.read_by = sentence.read_at = None
    sentence.text = text
    sentence.full_clean(exclude=["report", "goal", "read_by"])
    sentence.save()


def report_draft_again(
    *, actor: Person, report: ProgressReport, expected_revision: int, today: dt.date
) -> ProgressReport:
    """Draft from the data of now: sentences that a person worded stay, the others are new and unread."""
    with transaction.atomic():
        row = _open_row(actor, report, expected_revision)
        _sentences_draft(actor, row, today)
        _audit(actor, row, "progress_report_draft", {})
    return row


def report_language_choose(
    *, actor: Person, report: ProgressReport, language: str, expected_revision: int, today: dt.date
) -> ProgressReport:
    """The family's version in another language; what was worded in the one before is kept with it."""
    if language not in ProgressReport.Language.values:
        raise ValidationError({"language": "Choose one of the languages."})
    with transaction.atomic():
        row = _open_row(actor, report, expected_revision)
        before, row.family_language = row.family_language, language
        row.save(update_fields=["family_language"])
        if not row.sentences.filter(audience="family", language=language).exists():
            _sentences_draft(actor, row, today)
        _audit(actor, row, "progress_report_language", {"language": [before, language]})
    return row


def report_sign(
    *, actor: Person, report: ProgressReport, name: str, expected_revision: int, today: dt.date, now: dt.datetime
) -> ProgressReport:
    """Sign a report whose every part was read: figures, charts, sentences and reading grade are kept as they are.

    Refused (``unread``) while nobody has read one of its parts.
    """
    if " ".join(name.split()).casefold() != str(actor).casefold():
        raise ValidationError({"name": f"Type your name as it stands here: {actor}."})
    with transaction.atomic():
        row = _open_row(actor, report, expected_revision)
        sentences = shown_sentences(row)
        unread = sum(1 for one in sentences if one.text and one.read_at is None)
        if unread:
            raise ApplicationError(UNREAD.format(count=unread), code="unread")
        row.content = _content(actor, row, [one for one in sentences if one.text], min(row.last_day, today))
        row.signed_by, row.signed_at, row.signed_name = actor, now, " ".join(name.split())
        row.save(update_fields=["content", "signed_by", "signed_at", "signed_name"])
        _audit(actor, row, "progress_report_sign", {"signed": [None, row.signed_name]})
    row.refresh_from_db()
    return row


def _content(actor: Person, row: ProgressReport, told: list[ReportSentence], last: dt.date) -> dict[str, Any]:
    """All that stands in a report, as JSON."""
    return {
        "facts": asdict(report_facts(actor, row.student, row.first_day, last)),
        "sentences": [_kept(one) for one in told],
        "drawings": {goal: asdict(one) for goal, one in drawings_of(row, last).items()},
        "grade": asdict(family_grade(row, [one.text for one in told if one.audience == "family"])),
    }


def report_reopen(*, actor: Person, report: ProgressReport, expected_revision: int) -> ProgressReport:
    """Take a signature back: it can be changed, and has to be signed again before it is printed."""
    with transaction.atomic():
        row = _claimed(actor, report, expected_revision)
        if not row.is_signed:
            raise ApplicationError("This report isn't signed.", code="not_signed")
        row.signed_by = row.signed_at = None
        row.signed_name, row.content = "", {}
        row.save(update_fields=["content", "signed_by", "signed_at", "signed_name"])
        _audit(actor, row, "progress_report_reopen", {"signed": [report.signed_name, None]})
    return row


def report_remove(
    *, actor: Person, report: ProgressReport, expected_revision: int, now: dt.datetime
) -> ProgressReport:
    """Remove a report that isn't signed; `report_restore` brings it back as it was."""
    with transaction.atomic():
        row = _open_row(actor, report, expected_revision)
        row.removed_at = now
        row.save(update_fields=["removed_at"])
        _audit(actor, row, "progress_report_remove", {})
    return row


def report_restore(*, actor: Person, report: ProgressReport) -> ProgressReport:
    """Bring a removed report back; refused where another of its kind was begun since."""
    with transaction.atomic():
        row = _claimed(actor, report, report.revision)
        row.removed_at = None
        row.full_clean(exclude=["content"])
        row.save(update_fields=["removed_at"])
        _audit(actor, row, "progress_report_restore", {})
    return row


# ---- helpers ---------------------------------------------------------------------------------------------


def _claimed(actor: Person, report: ProgressReport, expected_revision: int) -> ProgressReport:
    """The row with its revision raised, if it is still the one that the person saw."""
    permission_require(actor, WRITE)
    rows = ProgressReport.objects.changeable_by(actor).filter(pk=report.pk)
    if not rows.exists():
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    claimed = ProgressReport.objects.filter(pk=report.pk, revision=expected_revision)
    if claimed.update(revision=F("revision") + 1) != 1:
        raise ApplicationError(CHANGED, code="changed_meanwhile")
    return rows.select_related("student__district").get()


def _open_row(actor: Person, report: ProgressReport, expected_revision: int) -> ProgressReport:
    row = _claimed(actor, report, expected_revision)
    if row.is_signed:
        raise ApplicationError(SIGNED, code="signed")
    return row


def _sentences_draft(actor: Person, report: ProgressReport, today: dt.date) -> None:
    """Sentences of the team and of the family's language, drafted or drafted again."""
    facts = report_facts(actor, report.student, report.first_day, min(report.last_day, today))
    language = report.family_language
    drafts = [*team_drafts(facts), *family_drafts(facts, str(report.student.caseload_teacher), language)]
    known = {_key(one): one for one in shown_sentences(report)}
    for position, draft in enumerate(drafts):
        row = known.pop((draft.audience, draft.topic, draft.goal_id), None) or ReportSentence(
            report=report, audience=draft.audience, topic=draft.topic, goal_id=draft.goal_id
        )
        row.language = language if draft.audience == "family" else ProgressReport.Language.ENGLISH
        row.position = position
        _redraft(row, draft)
        row.full_clean(exclude=["report", "goal", "read_by"])
        row.save()
    for gone in known.values():
        if not gone.is_edited:
            gone.delete()


def _redraft(row: ReportSentence, draft: Drafted) -> None:
    """The new draft; as the text too, where no person has worded it."""
    edited, before = row.is_edited, row.drafted
    row.drafted = draft.text[:LONGEST]
    if not edited and (row.pk is None or before != row.drafted):
        row.text = row.drafted
        row.read_by = row.read_at = None


def _key(one: ReportSentence) -> tuple[str, str, int | None]:
    return one.audience, one.topic, one.goal_id


def _kept(one: ReportSentence) -> dict[str, Any]:
    return {"audience": one.audience, "topic": one.topic, "goal": one.goal_id, "text": one.text}


def _audit(actor: Person, report: ProgressReport, action: str, changes: Mapping[str, Any]) -> None:
    told = {"last_day": [None, date_words(report.last_day)], **changes}
    audit_write(actor=actor, district=report.district, action=action, row=report, changes=told)
