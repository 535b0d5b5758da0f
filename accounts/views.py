"""Signing in and out, and where a person starts."""

from django.contrib import messages
from django.contrib.auth.forms import PasswordChangeForm
from django.contrib.auth.views import LoginView, PasswordChangeView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import NoReverseMatch, reverse, reverse_lazy
from django.views.decorators.http import require_safe

from accounts.pages import person_of
from accounts.people_services import own_password_chosen


class SignInView(LoginView):
    """Name and password; django-axes shuts the door for a while after five wrong tries."""

    template_name = "accounts/sign_in.html"
    http_method_names = ["get", "head", "post", "options"]
    redirect_authenticated_user = True


class ChangePasswordView(PasswordChangeView):
    """A new password, given the old one."""

    template_name = "accounts/password_change.html"
    http_method_names = ["get", "head", "post", "options"]
    success_url = reverse_lazy("home")

    def form_valid(self, form: PasswordChangeForm) -> HttpResponse:
        """Say that it worked."""
        answer = super().form_valid(form)
        own_password_chosen(actor=person_of(self.request))
        messages.success(self.request, "Your password is changed.")
        return answer


@require_safe
def home(request: HttpRequest) -> HttpResponse:
    """The week (this one, or the next that is planned) if that page is installed, else the buildings."""
    for name, more in (("week", "?start=1"), ("building_list", "")):
        try:
            return redirect(reverse(name) + more)
        except NoReverseMatch:
            continue
    return redirect("password_change")
