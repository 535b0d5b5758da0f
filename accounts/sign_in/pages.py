"""Signing in and out, and where a person starts."""

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.views import LoginView
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import NoReverseMatch, reverse, reverse_lazy
from django.utils.decorators import method_decorator
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_safe
from django.views.generic import FormView

from accounts.pages import person_of
from accounts.people.services import own_password_choose
from accounts.sign_in.forms import OwnPasswordForm, SignInForm


class SignInView(LoginView):
    """Name and password; django-axes shuts the door for a while after five wrong tries."""

    form_class = SignInForm
    template_name = "accounts/sign_in.html"
    http_method_names = ["get", "head", "post", "options"]
    redirect_authenticated_user = True


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
        try:
            own_password_choose(actor=person, **form.passwords)
        except ValidationError as error:
            form.refuse(error)
            return self.form_invalid(form)
        update_session_auth_hash(self.request, person)
        messages.success(self.request, "Your password has been changed.")
        return redirect(self.get_success_url())


@require_safe
def home(request: HttpRequest) -> HttpResponse:
    """The week (this one, or the next that is planned) if that page is installed, else the buildings.

    Whoever stands in by a link has a day.
    """
    if person_of(request).by_link:
        return redirect("day")
    for name, more in (("week", "?start=1"), ("building_list", "")):
        try:
            return redirect(reverse(name) + more)
        except NoReverseMatch:
            continue
    return redirect("password_change")
