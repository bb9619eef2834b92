"""How templates of the handbook tell its entries: months, grounds, cautions, who may."""

from django import template
from django.utils.safestring import mark_safe
from django.utils.translation import get_language, gettext, gettext_lazy

from frontend.drawings.season import season
from frontend.handbook import telling
from frontend.handbook.chapters import address_of, name_of
from survey.handbook.book import book

register = template.Library()


@register.simple_tag(name="season", takes_context=True)
def season_tag(context, months, beside=(), kind: str = "", words: str = ""):
    """Months of the north as a strip of twelve, as they fall at the reader's place."""
    here = telling.months_here(months, context["hemisphere"])
    near = telling.months_here(beside, context["hemisphere"])
    title = f"{words}: {telling.months_said(here)}" if words else telling.months_said(here)
    drawn = season(here, near, context["now"], kind=kind, title=title)
    return mark_safe(drawn)  # noqa: S308 - made by this project's own pen


@register.simple_tag(takes_context=True)
def bare_season(context, species):
    """The months in which a kind of tree is supposed to be bare here, and those in which it may."""
    bare, may_be = _bare_here(context, species)
    title = gettext("Bare") + f": {telling.months_said(bare)}"
    drawn = season(bare, may_be, context["now"], kind="is-bare", title=title)
    return mark_safe(drawn)  # noqa: S308 - made by this project's own pen


@register.simple_tag(takes_context=True)
def bare_told(context, species):
    """The months in which it is supposed to be bare here, in words."""
    return telling.months_said(_bare_here(context, species)[0])


def _bare_here(context, species) -> tuple[set[int], set[int]]:
    year, here = range(1, 13), context["hemisphere"]
    return (
        {month for month in year if species.is_bare(month, here)},
        {month for month in year if species.is_shoulder(month, here)},
    )


@register.simple_tag(takes_context=True)
def open_season(context, care):
    """The months that this place's climate leaves a kind of care open."""
    return season_tag(context, care.open_months(context["climate"]), (), "d-do", gettext("Open"))


@register.simple_tag(takes_context=True)
def months_told(context, months):
    """The same months in words."""
    return telling.months_said(telling.months_here(months, context["hemisphere"]))


@register.simple_tag(takes_context=True)
def height_told(context, species):
    return telling.height_said(species.height_low_m, species.height_high_m, context["units"])


@register.inclusion_tag("frontend/handbook/_grounds.html")
def grounds(entry):
    """What an entry rests on: its sources in full, its mark, and which part rests on what."""
    return {"grounds": telling.grounds_of(entry), "basis": entry.basis}


@register.inclusion_tag("frontend/handbook/_caution.html")
def caution(warned):
    """The five lines of a danger or a caution, always in one order."""
    return {"warned": warned}


@register.filter
def who_may(who):
    return telling.who_said(who)


@register.filter
def mark_told(source: str) -> str:
    """A local rule's source; a mark is told in the reader's language."""
    return telling.mark_said(source)


@register.filter
def habit_told(species) -> str:
    return str(telling.HABITS[species.leaf_habit])


@register.filter
def bark_told(species) -> str:
    return str(telling.BARKS[species.bark])


@register.filter
def degree_told(degree: str) -> str:
    """How much of something, in words that rate no risk."""
    return str(telling.DEGREES.get(degree, degree))


@register.filter
def entry_name(entry) -> str:
    return name_of(entry)


@register.simple_tag
def entry_url(shelf: str, code: str) -> str:
    return address_of(shelf, code)


@register.simple_tag
def cause_name(code: str) -> str:
    return name_of(book().causes[code])


@register.simple_tag
def danger_name(code: str) -> str:
    return name_of(book().dangers[code])


@register.simple_tag
def care_name(code: str) -> str:
    return name_of(book().care[code])


@register.filter
def local_words(rule) -> str:
    """A local rule in Spanish for a reader of Spanish, where somebody wrote it."""
    spanish = (get_language() or "en").startswith("es")
    return rule.text_es if spanish and rule.text_es else rule.text


@register.filter
def local_language(rule) -> str:
    """The language in which `local_words` speaks."""
    spanish = (get_language() or "en").startswith("es")
    return "es" if spanish and rule.text_es else "en"


MEANINGS = {
    "danger": gettext_lazy("means a danger"),
    "harmless": gettext_lazy("only looks like one"),
    "denies": gettext_lazy("says that it is not so"),
    "still": gettext_lazy("says that it is so after all"),
    "over": gettext_lazy("says that it is over"),
}


@register.filter
def meaning_told(meaning: str) -> str:
    """What words do to the reading of a hazard."""
    return str(MEANINGS.get(meaning, meaning))


@register.filter
def of_code(rules, code: str):
    """The local rules of one entry, out of those of its whole kind."""
    return rules.get(code, []) if rules else []


@register.filter
def kind_of_advice(kind: str) -> str:
    return {
        "do_not": gettext("Leave it alone"),
        "tell_us": gettext("Call or write today"),
        "today": gettext("What helps today"),
    }[kind]
