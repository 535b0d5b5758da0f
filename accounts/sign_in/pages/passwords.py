"""Passwords: forgotten, chosen by a link, changed."""

from typing import Any

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import INTERNAL_RESET_SESSION_TOKEN, PasswordResetConfirmView
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse_lazy
from django.utils.decorators import method_decorator
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods
from django.views.generic import FormView

from accounts.models import Person
from accounts.pages import person_of, site_of
from accounts.people.mailing import HOURS, mail_is_set_up
from accounts.people.services import links_send_for_address, own_password_choose, password_by_link_choose
from accounts.sign_in.forms import ForgotForm, NewPasswordForm, OwnPasswordForm
from accounts.sign_in.trying import try_failed, try_require


@method_decorator(login_not_required, name="dispatch")
class ForgotPasswordView(FormView):  # type: ignore[type-arg]  # Django's FormView takes no type at run time
    """Have a link sent to one's own mail address. The answer is the same whoever has that address, or nobody."""

    form_class = ForgotForm
    template_name = "accounts/password_forgot.html"
    http_method_names = ["get", "head", "post", "options"]
    extra_context = {"hours": HOURS}

    def get_context_data(self, **more: Any) -> dict[str, Any]:
        """Whether mail leaves this site at all."""
        return super().get_context_data(by_mail=mail_is_set_up(), **more)

    def form_valid(self, form: ForgotForm) -> HttpResponse:
        """Send it, if there is somebody."""
        links_send_for_address(address=form.cleaned_data["email"], site=site_of(self.request))
        return render(self.request, "accounts/password_link_sent.html", {"hours": HOURS})


@method_decorator(require_http_methods(["GET", "HEAD", "POST"]), name="dispatch")
@method_decorator(login_not_required, name="dispatch")
class PasswordLinkView(PasswordResetConfirmView):
    """Choose a password by a link. Django's own view checks it and takes its secret out of the address."""

    form_class = NewPasswordForm  # type: ignore[assignment]  # a form of ours, whose service saves
    template_name = "accounts/password_link.html"
    http_method_names = ["get", "head", "post", "options"]
    success_url = reverse_lazy("sign_in")

    def form_valid(self, form: Any) -> HttpResponse:
        """Save it by the service, and lead to the sign-in page; or show what is wrong."""
        person = self.user
        if not isinstance(person, Person):  # Django shows no form without a person
            return self.form_invalid(form)
        try:
            self.choose(person, form.cleaned_data["new_password1"])
        except ValidationError as error:
            form.refuse(error)
            return self.form_invalid(form)
        self.request.session.pop(INTERNAL_RESET_SESSION_TOKEN, None)
        messages.success(self.request, "Your password has been chosen. Sign in with it.")
        return redirect(self.get_success_url())

    def choose(self, person: Person, new_password: str) -> None:
        """Save it. Raises `ValidationError` under ``new_password``."""
        password_by_link_choose(person=person, new_password=new_password)


@method_decorator(sensitive_post_parameters(), name="dispatch")
class ChangePasswordView(FormView):  # type: ignore[type-arg]  # Django's FormView takes no type at run time
    """A new password, given the old one."""

    form_class = OwnPasswordForm
    template_name = "accounts/password_change.html"
    http_method_names = ["get", "head", "post", "options"]
    success_url = reverse_lazy("home")

    def form_valid(self, form: OwnPasswordForm) -> HttpResponse:
        """Change it, stay signed in and say that it worked; or show what is wrong."""
        person = person_of(self.request)
        try_require(self.request, person)
        try:
            own_password_choose(actor=person, **form.passwords)
        except ValidationError as error:
            if "old_password" in error.error_dict:
                try_failed(self.request, person)
            form.refuse(error)
            return self.form_invalid(form)
        update_session_auth_hash(self.request, person)
        messages.success(self.request, "Your password has been changed.")
        return redirect(self.get_success_url())
