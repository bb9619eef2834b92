"""How the house is doing: work that waits, what is parked and why, letters, calls, the audit."""

import shutil
import tomllib

from django.conf import settings
from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count, Min
from django.http import Http404
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from frontend.access import only
from frontend.context import home_area
from survey.audit.models import Entry
from survey.chores.actions import retry_chore
from survey.chores.models import Chore, Schedule
from survey.chores.registry import rhythms
from survey.people.letters import how_many_kept, kept_letter, kept_letters
from survey.people.models import Mail, Person
from survey.people.policy import may_see_contacts, may_see_operations
from survey.photos.models import Photo

MOST_PARKED = 50
MOST_LETTERS = 30
MOST_CALLS = 50
AUDIT_PAGE = 30
LATE = 300  # seconds after which waiting work says that nobody does it
A_GIGABYTE = 1024**3


@require_safe
@only(may_see_operations)
def operations(request):
    now = timezone.now()
    subject = " ".join(request.GET.get("subject", "").replace("\x00", "").split())[:80]
    free = shutil.disk_usage(settings.DATA).free
    parked = list(Chore.objects.parked()[:MOST_PARKED])
    waiting = _waiting(now)
    may_call = may_see_contacts(request.user)
    context = {
        "nav": "operations",
        "waiting": waiting,
        "late": any(row["late"] for row in waiting),
        "parked": [_parked(chore) for chore in parked],
        "parked_count": Chore.objects.filter(state=Chore.State.PARKED).count(),
        "nightly": _nightly(),
        "letters": kept_letters(MOST_LETTERS) if may_call else [],
        "letter_count": how_many_kept(),
        "calls": list(Mail.objects.to_be_called().select_related("contact")[:MOST_CALLS]),
        "call_count": Mail.objects.filter(state=Mail.State.BY_PHONE).count(),
        "mail_waiting": Mail.objects.filter(state=Mail.State.WAITING).count(),
        "photos": dict(Photo.objects.order_by().values_list("state").annotate(n=Count("pk"))),
        "refused": list(
            Photo.objects.filter(state=Photo.State.REFUSED).order_by("-received_at", "-pk")[:10]
        ),
        "free": free / A_GIGABYTE,
        "free_low": free < 5 * settings.DISK_FLOOR,
        "has_mail_server": "filebased" not in settings.EMAIL_BACKEND,
        "database": "PostgreSQL" if settings.DATABASE_URL else "SQLite",
        "has_broker": bool(settings.REDIS_URL),
        "version": _version(),
        "subject": subject,
        "home": home_area(),
    }
    context |= _audit(request, subject)
    return render(request, "frontend/desk/operations.html", context)


def _waiting(now) -> list[dict]:
    """Open work by kind: how much waits and is being done, and since when the oldest is due."""
    states = [Chore.State.WAITING, Chore.State.CLAIMED]
    rows = (
        Chore.objects.filter(state__in=states)
        .order_by()
        .values("kind", "state")
        .annotate(n=Count("pk"), oldest=Min("due_at"))
    )
    kinds: dict[str, dict] = {}
    for row in rows:
        kind = kinds.setdefault(
            row["kind"],
            {"kind": row["kind"], "waiting": 0, "claimed": 0, "oldest": None, "late": False},
        )
        kind[row["state"]] = row["n"]
        if row["state"] == Chore.State.WAITING:
            kind["oldest"] = row["oldest"]
            kind["due"] = row["oldest"] <= now
            kind["late"] = (now - row["oldest"]).total_seconds() > LATE
    return sorted(kinds.values(), key=lambda kind: (not kind["late"], kind["kind"]))


def _parked(chore: Chore) -> dict:
    first, _line, rest = chore.last_error.partition("\n")
    return {"chore": chore, "first": first, "rest": rest.strip()}


def _nightly() -> list[dict]:
    """What repeats: the period written last, and when such work was last done."""
    periods = dict(Schedule.objects.values_list("kind", "period"))
    done = {
        kind: Chore.objects.finished().filter(kind=kind).values_list("done_at", flat=True).first()
        for kind in sorted(rhythms)
    }
    return [
        {
            "kind": kind,
            "nightly": rhythms[kind].nightly,
            "minutes": rhythms[kind].minutes,
            "period": periods.get(kind, ""),
            "done_at": done[kind],
        }
        for kind in sorted(rhythms)
    ]


def _audit(request, subject: str) -> dict:
    """The audit, newest first; of one thing when a subject is given."""
    lines = Entry.objects.newest_first()
    if subject:
        lines = lines.filter(subject=subject)
    page = Paginator(lines, AUDIT_PAGE).get_page(request.GET.get("page"))
    entries = list(page.object_list)
    keys = {entry.who.removeprefix("person:") for entry in entries}
    names = dict(Person.objects.filter(key__in=keys).values_list("key", "name"))
    return {
        "page": page,
        "lines": [
            {"entry": entry, "who": names.get(entry.who.removeprefix("person:"), entry.who)}
            for entry in entries
        ],
    }


def _version() -> str:
    """The number of this version, as the project file says it."""
    try:
        with (settings.BASE_DIR / "pyproject.toml").open("rb") as file:
            return tomllib.load(file)["project"]["version"]
    except (OSError, KeyError, tomllib.TOMLDecodeError):
        return ""


@require_safe
@only(may_see_contacts)
def letter(request, name: str):
    """One kept letter."""
    found = kept_letter(name)
    if found is None:
        raise Http404
    return render(request, "frontend/desk/letter.html", {"nav": "operations", "letter": found})


@require_POST
@only(may_see_operations)
def retry(request, number: int):
    """Let parked work be tried again."""
    if retry_chore(number=number, by=request.user, at=timezone.now()):
        messages.success(request, _("It is tried again now."))
    else:
        messages.warning(request, _("That work is not parked any more."))
    return redirect(reverse("frontend:operations") + "#parked")
