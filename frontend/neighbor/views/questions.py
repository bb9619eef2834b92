"""What is wrong with the tree: signs, the whole look, how far round, photos, words."""

from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from frontend.neighbor import steps
from frontend.neighbor.drafts import go_on, of_draft, page, without_nul
from frontend.neighbor.forms import ExtentForm, OverallForm, SignsForm, WordsForm
from frontend.neighbor.limits import PHOTOS, please_wait, seconds_to_wait
from survey.handbook.book import book
from survey.photos.intake import ACCEPTED_TYPES, size_refusal
from survey.photos.models import Photo
from survey.photos.uploads import refused_files
from survey.reports.actions.drafts import KEPT_LETTERS, add_photo, drop_photo, save_answers
from survey.reports.answers import MOST_PHOTOS, asks_extent, asks_side
from survey.trees.species import kind_of

HEADINGS = (
    ("base", gettext_lazy("At the base")),
    ("higher", gettext_lazy("Higher up")),
    ("soil", gettext_lazy("On the ground")),
    ("end", gettext_lazy("And else?")),
)


@of_draft("signs")
def signs(request, draft, key):
    """Tick all that fit, by pictures; none fitting is an answer too."""
    form = SignsForm(request.POST or None)
    if request.method == "POST":
        form = SignsForm(request.POST)
        if form.is_valid():
            ticked = form.cleaned_data["signs"]
            changes = {"signs": ticked}
            if not asks_extent(ticked):
                changes["extent"] = None
            if not asks_side(ticked):
                changes["side"] = None
            return go_on(key, save_answers(draft=draft, answers=changes, at=timezone.now()))
    chosen = request.POST.getlist("signs") or draft.answers.get("signs", [])
    groups = [
        (heading, [(sign, sign.code in chosen) for sign in book().signs_for("neighbor", place)])
        for place, heading in HEADINGS
    ]
    return page(
        request,
        "signs",
        draft,
        key,
        steps.SIGNS,
        status=400 if form.errors else 200,
        form=form,
        groups=groups,
    )


@of_draft("overall")
def overall(request, draft, key):
    """The picture scale: one picture for the whole tree."""
    form = OverallForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        answers = {"picture": form.cleaned_data["picture"]}
        return go_on(key, save_answers(draft=draft, answers=answers, at=timezone.now()))
    tree = steps.tree_of(draft)
    month = draft.area.today().month
    is_bare_time = tree is not None and kind_of(draft.area, tree.species).is_leaf_off(month)
    chosen = request.POST.get("picture") or draft.answers.get("picture")
    return page(
        request,
        "overall",
        draft,
        key,
        steps.OVERALL,
        status=400 if form.errors else 200,
        form=form,
        pictures=[(step, step.code == chosen) for step in book().picture_scale.values()],
        is_bare_time=is_bare_time,
    )


@of_draft("extent")
def extent(request, draft, key):
    """How far round it goes, and on which side; only what a ticked sign asks for."""
    ticked = draft.answers.get("signs", ())
    asked = {"extent": asks_extent(ticked), "side": asks_side(ticked)}
    form = ExtentForm(request.POST if request.method == "POST" else None, **asked)
    if request.method == "POST":
        typed = {
            name: request.POST[name]
            for name, choices in (("extent", book().extents), ("side", book().sides))
            if asked[name] and request.POST.get(name) in choices
        }
        draft = save_answers(draft=draft, answers=typed, at=timezone.now())
        if form.is_valid():
            return go_on(key, draft)
    known = book()
    return page(
        request,
        "extent",
        draft,
        key,
        steps.EXTENT,
        status=400 if form.errors else 200,
        form=form,
        asked=asked,
        extents=[(e, e.code == draft.answers.get("extent")) for e in known.extents.values()],
        sides=[(s, s.code == draft.answers.get("side")) for s in known.sides.values()],
        round_signs=steps.signs_said(c for c in ticked if asks_extent([c])),
        side_signs=steps.signs_said(c for c in ticked if asks_side([c])),
    )


@dataclass(slots=True)
class PhotoRow:
    """One photo that helps: what it shows, what was kept of it, and why one was refused."""

    part: str
    title: str
    hint: str
    drawing: str
    kept: list
    refused: str = ""
    missing: bool = False


def _photo_rows(draft) -> list[PhotoRow]:
    kept = list(draft.photos.order_by("pk"))
    rows = [
        PhotoRow(
            Photo.Part.WHOLE,
            _("The whole tree"),
            _("Step back until you see top and ground."),
            "whole_tree",
            [],
        ),
        PhotoRow(
            Photo.Part.BASE,
            _("The base of the trunk"),
            _("Hold the phone at knee height."),
            "base",
            [],
        ),
        PhotoRow(
            Photo.Part.CLOSE,
            _("Close up, with a coin"),
            _("The coin shows how big it is."),
            "close_up",
            [],
        ),
        PhotoRow(Photo.Part.OTHER, _("Anything else"), _("What we should see too."), "", []),
    ]
    for row in rows:
        row.kept = [photo for photo in kept if photo.part == row.part]
    return rows


@of_draft("photos")
def photos(request, draft, key):
    """Photos on a page of their own: one that is refused costs no words and no other photo."""
    refused: dict[str, str] = {}
    if request.method == "POST":
        wait = seconds_to_wait(request, PHOTOS, max(1, len(request.FILES)))
        if wait:
            return please_wait(request, wait, go_on_url=request.path)
        if request.POST.get("drop"):
            drop_photo(draft=draft, photo_key=request.POST["drop"][:32], at=timezone.now())
        else:
            refused = _take_in_all(request, draft)
            if not refused:
                draft = save_answers(draft=draft, answers={"photos": True}, at=timezone.now())
                return go_on(key, draft)
    rows = _photo_rows(draft)
    for row in rows:
        row.refused = refused.get(row.part, "")
    count = sum(len(row.kept) for row in rows)
    return page(
        request,
        "photos",
        draft,
        key,
        steps.PHOTOS,
        status=400 if refused else 200,
        rows=rows,
        count=count,
        most=MOST_PHOTOS,
        is_full=count >= MOST_PHOTOS,
        refused=refused,
        accepted=ACCEPTED_TYPES,
    )


def _take_in_all(request, draft) -> dict[str, str]:
    """Keep every photo that can be kept; the reason for each that cannot, by its place."""
    refused = {}
    for dropped in refused_files(request):
        part = dropped.field.removeprefix("photo_")
        refused[part] = (
            size_refusal().messages[0]
            if dropped.reason == "too_big"
            else _("Up to %d photos can go with one report.") % MOST_PHOTOS
        )
    for part in Photo.Part.values:
        for file in request.FILES.getlist(f"photo_{part}"):
            try:
                add_photo(draft=draft, file=file, part=part, at=timezone.now())
            except ValidationError as trouble:
                refused[part] = trouble.messages[0]
    return refused


def _needs_words(draft) -> bool:
    """Whether the report says nothing yet but where the tree is, or promised words of its own."""
    answers = draft.answers
    if answers.get("danger"):
        return answers["danger"] == "something_else"
    if "something_else" in answers.get("signs", ()):
        return True
    says_nothing = not answers.get("signs") and answers.get("picture") == "cannot_tell"
    return says_nothing and not draft.photos.exists()


@of_draft("words")
def words(request, draft, key):
    """Free words, the day, and how to answer. A text too long is kept, and asked to be shorter."""
    today = draft.area.today()
    typed = draft.answers.get("seen_typed") or [
        today.strftime("%B"),
        str(today.day),
        str(today.year),
    ]
    initial = {
        "words": draft.answers.get("words", ""),
        "contact": draft.answers.get("contact", ""),
        "month": typed[0],
        "day": typed[1],
        "year": typed[2],
    }
    rules = {"today": today, "needs_words": _needs_words(draft)}
    form = WordsForm(initial=initial, **rules)
    cut = False
    if request.method == "POST":
        posted = without_nul(request.POST)
        form = WordsForm(posted, **rules)
        cut = len(posted.get("words", "")) > KEPT_LETTERS
        valid = form.is_valid()
        day = form.cleaned_data.get("seen_on")
        typed = form.cleaned_data if valid else posted
        draft = save_answers(
            draft=draft,
            answers={
                "words": typed.get("words", ""),
                "contact": typed.get("contact", "")[:500],
                "seen_typed": [posted.get(name, "")[:40] for name in ("month", "day", "year")],
                "seen_on": day.isoformat() if valid and day else None,
            },
            at=timezone.now(),
        )
        if valid:
            return go_on(key, draft)
    step = steps.DANGER_WORDS if steps.is_danger(draft) else steps.WORDS
    return page(
        request,
        "words",
        draft,
        key,
        step,
        status=400 if form.errors else 200,
        form=form,
        needs_words=rules["needs_words"],
        cut=cut,
        kept=KEPT_LETTERS,
        back_url=reverse("frontend:report-stop", args=[key])
        if steps.is_danger(draft) and draft.answers.get("tree")
        else steps.back_url(key, draft, "words"),
    )
