"""Sign in and out, one's own account, and everybody's."""

from datetime import date

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import authenticate, login, logout, update_session_auth_hash
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_protect
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from frontend.access import only
from frontend.accounts import throttle
from frontend.accounts.forms import (
    FirstAccountForm,
    NewPersonForm,
    OwnPasswordForm,
    OwnSettingsForm,
    PersonForm,
    SignInForm,
    TownForm,
)
from frontend.context import home_area
from frontend.language import speak
from frontend.refusals import show_refusal
from survey.people import actions
from survey.people.models import Person
from survey.people.policy import may_keep_accounts, may_practice, may_read_survival, may_triage
from survey.trees.actions.towns import LINES, set_home

a_form = require_http_methods(["GET", "HEAD", "POST"])
passwords = sensitive_post_parameters("password", "old")


def _page(request, name: str, context: dict, status: int = 200) -> HttpResponse:
    return render(request, f"frontend/accounts/{name}.html", context, status=status)


def first_page_of(person: Person) -> str:
    """Where somebody's work begins."""
    if may_keep_accounts(person) and home_area() is None:
        return reverse("frontend:town")
    if may_triage(person):
        return reverse("frontend:queue")
    if person.role == Person.Role.LIAISON:
        return reverse("frontend:survival")
    return reverse("frontend:orders")


@passwords
@never_cache
@csrf_protect
@a_form
def sign_in(request):
    """The same answer for a wrong password, a name nobody has, and a closed account.

    Django checks a password even when there is no such account, so that they take the same time.
    """
    wanted = request.POST.get("next", request.GET.get("next", ""))
    safe = url_has_allowed_host_and_scheme(
        wanted, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    wanted = wanted if safe else ""
    if request.user.is_authenticated and request.method != "POST":
        return redirect(wanted or first_page_of(request.user))
    form = SignInForm(request.POST or None)
    status = 200
    if request.method == "POST" and form.is_valid():
        name, address = form.cleaned_data["sign_in"], request.META.get("REMOTE_ADDR", "")
        if throttle.is_slowed(name, address):
            form.add_error(None, _("Too many tries. Wait 15 minutes, then try again."))
            status = 429
        else:
            person = authenticate(
                request,
                username=name.strip().lower(),
                password=form.cleaned_data["password"],
            )
            if person is not None:
                throttle.forget_failures(name, address)
                login(request, person)
                response = redirect(wanted or first_page_of(person))
                speak(response, person.language)
                return response
            throttle.count_failure(name, address)
            form.add_error(None, _("That name and password do not belong together."))
            status = 403
    context = {"form": form, "next": wanted, "no_account": not Person.objects.exists()}
    response = _page(request, "sign_in", context, status)
    if status == 429:
        response.headers["Retry-After"] = str(throttle.WINDOW)
    return response


@require_POST
def sign_out(request):
    logout(request)
    response = redirect("frontend:sign-in")
    response.headers["Clear-Site-Data"] = '"cache", "storage"'
    return response


@passwords
@never_cache
@a_form
def first(request):
    """The first account of all. Gone as soon as there is one.

    On a public service whoever came first would own the house, so there it is made by command.
    """
    if Person.objects.exists():
        raise Http404
    by_command = settings.CITY and not settings.DEBUG
    form = FirstAccountForm(request.POST or None)
    if request.method == "POST":
        if by_command:
            raise PermissionDenied
        if form.is_valid():
            given = form.cleaned_data
            try:
                person = actions.create_account(
                    **given, role=Person.Role.KEEPER, by=None, at=timezone.now()
                )
            except ValidationError as refusal:
                show_refusal(form, refusal)
            else:
                login(request, person, "django.contrib.auth.backends.ModelBackend")
                return redirect(first_page_of(person))
    return _page(request, "first", {"form": form, "by_command": by_command})


@never_cache
@a_form
@only(may_keep_accounts)
def town(request):
    """Which town this house is for, and its telephone numbers."""
    area = home_area()
    initial = {}
    if area is not None:
        names = ["name", "latitude", "longitude", "time_zone", "association", "department", *LINES]
        initial = {name: getattr(area, name) for name in names}
        initial["radius_km"] = area.radius_m / 1000
    form = TownForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        given = dict(form.cleaned_data)
        try:
            area = set_home(
                radius_m=given.pop("radius_km") * 1000,
                by=request.user,
                at=timezone.now(),
                **given,
            )
        except ValidationError as refusal:
            show_refusal(form, refusal)
        else:
            messages.success(request, _("Kept. This house is for %s.") % area.name)
            return redirect("frontend:people")
    return _page(request, "town", {"form": form, "nav": "people", "is_new": area is None})


@passwords
@never_cache
@a_form
@only(may_read_survival)
def account(request):
    """One's own name, units, language and password."""
    person = request.user
    asked = request.POST.get("form", "")
    own = {"name": person.name, "units": person.units, "language": person.language}
    settings_form = OwnSettingsForm(
        request.POST if asked == "settings" else None, initial=own, prefix="own"
    )
    password_form = OwnPasswordForm(request.POST if asked == "password" else None)
    if asked == "settings" and settings_form.is_valid():
        try:
            actions.change_own_settings(by=person, **settings_form.cleaned_data)
        except ValidationError as refusal:
            show_refusal(settings_form, refusal)
        else:
            language = settings_form.cleaned_data["language"]
            with translation.override(language):
                messages.success(request, _("Your settings are kept."))
            response = redirect("frontend:account")
            speak(response, language)
            return response
    if asked == "password" and password_form.is_valid():
        given = password_form.cleaned_data
        try:
            person = actions.change_own_password(
                by=person, old=given["old"], new=given["password"], at=timezone.now()
            )
        except ValidationError as refusal:
            show_refusal(password_form, refusal)
        else:
            update_session_auth_hash(request, person)
            messages.success(
                request, _("Your password is new. Every other browser has to sign in again.")
            )
            return redirect("frontend:account")
    wrong = password_form if asked == "password" else settings_form
    context = {"form": wrong, "settings_form": settings_form, "password_form": password_form}
    context["may_practice"] = may_practice(person)
    return _page(request, "account", {**context, "nav": "account"})


@require_safe
@only(may_keep_accounts)
def people(request):
    """Everybody with an account."""
    everybody = Person.objects.order_by("-is_active", "role", "name", "pk")
    context = {"everybody": everybody, "nav": "people", "today": _today()}
    return _page(request, "people", context)


def _today() -> date:
    """Today in the home town; before there is one, where the server stands."""
    area = home_area()
    return area.today() if area else timezone.localdate()


@passwords
@never_cache
@a_form
@only(may_keep_accounts)
def new_person(request):
    form = NewPersonForm(request.POST or None, today=_today())
    if request.method == "POST" and form.is_valid():
        try:
            made = actions.create_account(**form.cleaned_data, by=request.user, at=timezone.now())
        except ValidationError as refusal:
            show_refusal(form, refusal)
        else:
            said = _("%(name)s can sign in as %(sign_in)s. Hand over the password in person.")
            messages.success(request, said % {"name": made.name, "sign_in": made.sign_in})
            return redirect("frontend:people")
    return _page(request, "person", {"form": form, "nav": "people", "whom": None})


@passwords
@never_cache
@a_form
@only(may_keep_accounts)
def person(request, key: str):
    """Change what one account may do."""
    whom = get_object_or_404(Person, key=key)
    names = ["name", "email", "role", "trained_on", "qualified_until", "is_active"]
    initial = {name: getattr(whom, name) for name in names}
    form = PersonForm(request.POST or None, initial=initial, today=_today())
    if request.method == "POST" and form.is_valid():
        try:
            actions.change_account(
                person=whom, by=request.user, at=timezone.now(), **form.cleaned_data
            )
        except ValidationError as refusal:
            show_refusal(form, refusal)
        else:
            messages.success(request, _("Changed: %s.") % form.cleaned_data["name"])
            return redirect("frontend:people")
    return _page(request, "person", {"form": form, "nav": "people", "whom": whom})
