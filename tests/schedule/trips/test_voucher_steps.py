"""Questions before submitting, and what becomes of a voucher: approved, returned, paid, and each step undone."""

import csv
import datetime as dt
import io
from decimal import Decimal

import openpyxl
import pypdf
import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from accounts.errors import ApplicationError
from accounts.models import AuditEntry, Person, PersonRole
from schedule.trips import services
from schedule.trips.files import voucher_file
from schedule.trips.selectors.vouchers import voucher_view
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.trips.test_mileage_vouchers import (
    NOW,
    SEPTEMBER,
    answers_to,
    confirm_all,
    correct,
    driven,
    submit,
    view,
)
from travel.mileage.models import Voucher, VoucherAnswer, VoucherStep

__all__ = ["driven"]
LATER = NOW + dt.timedelta(days=3)


@pytest.fixture
def voucher(driven: Cast) -> Voucher:
    """September's, submitted: 2 x 12.4 miles, $17.98."""
    confirm_all(driven)
    return submit(driven)


@pytest.fixture
def far(driven: Cast) -> Cast:
    """On Monday 20 miles were driven where the chart says 12.4."""
    correct(driven, view(driven).trips[0], driven_miles=Decimal(20))
    confirm_all(driven)
    return driven


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def give_back(cast: Cast, voucher: Voucher, words: str = "Which car was it?") -> VoucherStep:
    return services.voucher_return(actor=cast.coordinator, voucher=voucher, words=words, now=LATER)


# ---- questions ---------------------------------------------------------------------------------------------


def test_a_question_waits_for_an_answer_that_is_kept_with_the_voucher(far: Cast) -> None:
    [asked] = view(far).questions
    assert "20.0 miles driven, 61 % more than the chart's 12.4" in asked.words
    for answers in (None, {}, {asked.key: "  "}, {"another": "yes"}):
        with pytest.raises(ApplicationError, match=r"20\.0 miles driven") as caught:
            submit(far, answers=answers)
        assert caught.value.code == "questions_open"
    assert not Voucher.objects.exists()
    row = submit(far, answers={asked.key: " The bridge was closed. "})
    [answer] = voucher_view(row).answers
    assert (answer.question, answer.answer) == (asked.words, "The bridge was closed.")
    assert view(far).questions == (), "nothing is asked of what is submitted"


def test_a_supplement_asks_about_what_it_claims_and_nothing_again(far: Cast) -> None:
    submit(far, answers=answers_to(far))
    services.supplement_start(actor=far.teacher, teacher=far.teacher, month=SEPTEMBER)
    assert view(far).questions == ()
    correct(far, view(far).trips[1], driven_miles=Decimal(30))
    [asked] = view(far).questions
    assert "30.0 miles driven" in asked.words
    row = submit(far, answers=answers_to(far, "detour"))
    assert [one.answer for one in voucher_view(row).answers] == ["detour"]


def test_the_page_asks_keeps_what_was_typed_and_submits(far: Cast) -> None:
    client = signed_in(far.teacher)
    address = reverse("voucher_submit", args=["2026-09"])
    page = client.get(address).content.decode()
    assert "1 question first" in page
    [asked] = view(far).questions
    empty = client.post(address, {"question": [asked.key], "answer": [""]})
    assert empty.status_code == 422
    assert "Answer each question" in empty.content.decode()
    too_long = client.post(address, {"question": [asked.key], "answer": ["x" * 301]})
    assert too_long.status_code == 422
    assert "x" * 301 in too_long.content.decode()
    assert not Voucher.objects.exists()
    done = client.post(address, {"question": [asked.key], "answer": ["Bridge closed"]}, follow=True)
    assert "Bridge closed" in done.content.decode()
    assert "Bridge closed" in signed_in(far.coordinator).get(done.request["PATH_INFO"]).content.decode()


@pytest.mark.parametrize("answer", ["a\x00b", "x" * 301])
def test_an_answer_that_no_database_holds_is_refused_in_words(far: Cast, answer: str) -> None:
    """PostgreSQL keeps no NUL in a text; the error is one of the field's, and nothing is saved."""
    with pytest.raises(ValidationError):
        submit(far, answers=answers_to(far, answer))
    assert not Voucher.objects.exists()
    row = submit(far, answers=answers_to(far))
    with pytest.raises(ValidationError):
        give_back(far, row, answer)
    assert Voucher.objects.get().status == "submitted"


def test_the_api_tells_the_questions_and_takes_the_answers(far: Cast) -> None:
    api = Api(far.teacher)
    [asked] = api.get("mileage-months/2026-09/")["questions"]
    refused = api.post("mileage-months/2026-09/submit/", expect=409)
    assert refused["code"] == "questions_open"
    told = api.post(
        "mileage-months/2026-09/submit/", expect=201, answers=[{"key": asked["key"], "answer": "Bridge closed"}]
    )
    assert told["answers"][0]["answer"] == "Bridge closed"
    assert told["actions"] == ["take_back"]


@pytest.mark.usefixtures("pango")
def test_files_carry_the_answers_and_the_approver(far: Cast) -> None:
    row = submit(far, answers=answers_to(far, "=bridge closed"))
    services.voucher_approve(actor=far.coordinator, voucher=row, now=LATER)
    shown = voucher_view(Voucher.objects.get())
    book = openpyxl.load_workbook(io.BytesIO(voucher_file(shown, "xlsx")))
    head = {line[0].value: [cell.value for cell in line[1:3]] for line in book.worksheets[0].iter_rows(max_row=9)}
    assert head["Approved"] == [dt.datetime(2026, 10, 5), str(far.coordinator)]  # noqa: DTZ001 -- a workbook's dates have no zone
    assert head["State"][0] == "Approved"
    assert book["Questions"]["B2"].value == "'=bridge closed"
    text = " ".join(
        word
        for page in pypdf.PdfReader(io.BytesIO(voucher_file(shown, "pdf"))).pages
        for word in page.extract_text().split()
    )
    assert f"Approved on October 5, 2026 by {far.coordinator}" in text
    assert "=bridge closed" in text


# ---- approved, returned, paid ------------------------------------------------------------------------------


def test_who_did_what_and_when_and_each_step_back(driven: Cast, voucher: Voucher) -> None:
    boss = driven.coordinator
    services.voucher_approve(actor=boss, voucher=voucher, now=LATER)
    services.voucher_pay(actor=boss, voucher=voucher, words="Check 4711", now=LATER)
    shown = voucher_view(Voucher.objects.get(), boss)
    assert (shown.status, shown.actions) == ("paid", ("undo",))
    assert shown.payment is not None
    assert (shown.payment.words, shown.payment.by, shown.payment.at) == ("Check 4711", str(boss), LATER)
    services.voucher_step_undo(actor=boss, voucher=voucher, now=LATER)
    assert Voucher.objects.get().status == "approved"
    services.voucher_step_undo(actor=boss, voucher=voucher, now=LATER)
    shown = voucher_view(Voucher.objects.get(), boss)
    assert (shown.status, shown.actions, shown.approval) == ("submitted", ("approve", "return"), None)
    assert [one.label for one in shown.steps] == ["Approved", "Paid", "“Paid” undone", "“Approved” undone"]
    assert AuditEntry.objects.filter(action="voucher_step").count() == 4


def test_a_step_that_isnt_possible_says_how_the_voucher_stands(driven: Cast, voucher: Voucher) -> None:
    boss = driven.coordinator
    with pytest.raises(ApplicationError) as caught:
        services.voucher_pay(actor=boss, voucher=voucher, now=LATER)
    assert (caught.value.code, caught.value.status) == ("not_now", 409)
    services.voucher_approve(actor=boss, voucher=voucher, now=LATER)
    with pytest.raises(ApplicationError, match=r"approved since October 5, 2026, by"):
        services.voucher_approve(actor=boss, voucher=voucher, now=LATER)
    with pytest.raises(ApplicationError):
        services.voucher_take_back(actor=driven.teacher, voucher=voucher, words="wrong", now=LATER)
    assert VoucherStep.objects.count() == 1


def test_a_returned_month_is_corrected_and_submitted_again(driven: Cast, voucher: Voucher) -> None:
    """What was returned stays as it was and claims nothing: 12.4 and 11.9 miles are $8.99 and $8.63 (2026)."""
    with pytest.raises(ValidationError, match="Say why"):
        give_back(driven, voucher, " ")
    give_back(driven, voucher)
    found = view(driven)
    assert not found.locked
    assert found.returned is not None
    assert found.returned.in_force[-1].words == "Which car was it?"
    before = voucher_view(Voucher.objects.get())
    correct(driven, found.trips[0], driven_miles=Decimal("11.9"))
    again = submit(driven)
    assert (again.number, again.edition, again.supplement_of) == (0, 2, None)
    assert [one.amount for one in voucher_view(again).entries] == [Decimal("8.63"), Decimal("8.99")]
    assert voucher_view(Voucher.objects.get(edition=1)) == before
    assert view(driven).locked
    with pytest.raises(ApplicationError) as caught:
        services.voucher_step_undo(actor=driven.coordinator, voucher=voucher, now=LATER)
    assert caught.value.code == "month_changed"


def test_a_return_is_undone_while_nothing_was_corrected(driven: Cast, voucher: Voucher) -> None:
    give_back(driven, voucher)
    services.voucher_step_undo(actor=driven.coordinator, voucher=voucher, now=LATER)
    assert Voucher.objects.get().status == "submitted"
    assert view(driven).locked
    give_back(driven, voucher)
    correct(driven, view(driven).trips[0], driven_miles=Decimal("11.9"))
    with pytest.raises(ApplicationError, match="begun to correct"):
        services.voucher_step_undo(actor=driven.coordinator, voucher=voucher, now=LATER)
    assert Voucher.objects.get().status == "returned"


def test_a_supplement_that_is_returned_is_submitted_again_as_one(driven: Cast, voucher: Voucher) -> None:
    """The voucher below it stands meanwhile and can't be returned before it."""
    services.supplement_start(actor=driven.teacher, teacher=driven.teacher, month=SEPTEMBER)
    with pytest.raises(ApplicationError) as caught:
        give_back(driven, voucher)
    assert caught.value.code == "later_voucher"
    correct(driven, view(driven).trips[0], driven_miles=Decimal("11.9"))
    second = submit(driven)
    with pytest.raises(ApplicationError):
        give_back(driven, voucher)
    give_back(driven, second)
    assert not view(driven).locked
    correct(driven, view(driven).trips[0], driven_miles=Decimal("11.0"))
    third = submit(driven)
    assert (third.number, third.edition, third.supplement_of) == (1, 2, voucher)
    # 11.0 miles at 72.5 cents are $7.975, so $7.98 instead of $8.99.
    assert voucher_view(third).sums.total == Decimal("7.98") - Decimal("8.99")


def test_the_teacher_takes_back_what_nobody_has_approved(driven: Cast, voucher: Voucher) -> None:
    services.voucher_take_back(actor=driven.teacher, voucher=voucher, words="A trip is missing.", now=LATER)
    assert [one.label for one in voucher_view(voucher).steps] == ["Taken back"]
    services.voucher_step_undo(actor=driven.teacher, voucher=voucher, now=LATER)
    assert Voucher.objects.get().status == "submitted"


@pytest.mark.parametrize(
    ("person", "status"), [("teacher", 403), ("mate", 403), ("office", 403), ("stranger", 404)]
)
def test_only_the_coordinator_decides(driven: Cast, voucher: Voucher, person: str, status: int) -> None:
    for act in (services.voucher_approve, services.voucher_pay):
        with pytest.raises(ApplicationError) as caught:
            act(actor=getattr(driven, person), voucher=voucher, now=LATER)
        assert caught.value.status == status
    assert not VoucherStep.objects.exists()


def test_answers_of_a_returned_voucher_are_there_to_begin_from(far: Cast) -> None:
    first = submit(far, answers=answers_to(far, "Bridge closed"))
    give_back(far, first)
    page = signed_in(far.teacher).get(reverse("voucher_submit", args=["2026-09"])).content.decode()
    assert 'value="Bridge closed"' in page
    submit(far, answers=answers_to(far, "Bridge closed, see the county's notice"))
    assert VoucherAnswer.objects.count() == 2


def test_the_pages_of_whoever_approves(driven: Cast, voucher: Voucher) -> None:
    client = signed_in(driven.coordinator)
    listed = client.get(reverse("voucher_list")).content.decode()
    assert "$17.98" in listed
    assert str(driven.teacher) in listed
    address = reverse("voucher", args=[voucher.pk])
    assert "Approve $17.98" in client.get(address).content.decode()
    step = {name: reverse("voucher_step", args=[voucher.pk, name]) for name in ("approve", "return", "pay", "undo")}
    refused = client.post(step["return"], {"words": ""})
    assert refused.status_code == 422
    assert "Say why" in refused.content.decode()
    client.post(step["approve"])
    client.post(step["pay"], {"words": "Check 4711"})
    assert "Check 4711" in client.get(address).content.decode()
    assert "No voucher waits" in client.get(reverse("voucher_list")).content.decode()
    client.post(step["undo"])
    client.post(step["return"], {"words": "Two trips are missing."})
    month = signed_in(driven.teacher).get(f"{reverse('mileage')}?month=2026-09").content.decode()
    assert "Two trips are missing." in month
    assert client.get(f"{reverse('voucher_list')}?status=nonsense").status_code == 404
    assert client.post(reverse("voucher_step", args=[voucher.pk, "burn"])).status_code == 404


def test_the_api_approves_returns_pays_and_undoes(driven: Cast, voucher: Voucher) -> None:
    api = Api(driven.coordinator)
    path = f"vouchers/{voucher.pk}"
    assert [one["status"] for one in api.get("vouchers/")["results"]] == ["submitted"]
    assert api.post(f"{path}/approve/", expect=200)["status"] == "approved"
    assert api.post(f"{path}/pay/", expect=200, words="ACH 12")["in_force"][-1]["words"] == "ACH 12"
    assert api.post(f"{path}/undo/", expect=200)["status"] == "approved"
    assert "words" in api.post(f"{path}/return/", expect=400)["fields"]
    returned = api.post(f"{path}/return/", expect=200, words="Which car?")
    assert (returned["status"], returned["actions"]) == ("returned", ["undo"])
    assert api.post(f"{path}/pay/", expect=409)["code"] == "not_now"


def test_what_the_csv_says_of_a_supplement_adds_up(driven: Cast, voucher: Voucher) -> None:
    """Each line with its purpose; a returned voucher's file is still what it was."""
    give_back(driven, voucher)
    rows = list(csv.DictReader(io.StringIO(voucher_file(voucher_view(voucher), "csv").decode("utf-8-sig"))))
    assert [row["Purpose"] for row in rows[:-1]] == ["Adapted physical education at the schools served"] * 2
    assert rows[-1]["Total"] == "17.98"


def test_nobody_approves_the_own_voucher(driven: Cast, voucher: Voucher) -> None:
    """Whoever drives and is a coordinator, too: another coordinator does (separation of duty, NIST RBAC)."""
    own = PersonRole.objects.create(person=driven.teacher, role=Person.Role.COORDINATOR)
    driver = Person.objects.get(pk=driven.teacher.pk).act_as(own.role)
    with pytest.raises(ApplicationError) as refused:
        services.voucher_approve(actor=driver, voucher=voucher, now=LATER)
    assert refused.value.code == "not_now"
    services.voucher_approve(actor=driven.coordinator, voucher=voucher, now=LATER)
