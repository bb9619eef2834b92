"""What is typed to propose a rule of the place, and to end one."""

from django import forms
from django.utils.translation import gettext_lazy as _

from frontend.field.forms import choice, line, words
from frontend.handbook.telling import MARKS
from survey.causes.actions.local_rules import LONGEST_REASON, LONGEST_SOURCE, LONGEST_TEXT
from survey.causes.models import LocalRule
from survey.handbook.book import book
from survey.handbook.wording import said

PUBLISHED = "published"
WEIGHTS = [
    (3, _("speaks for it, very strongly (3)")),
    (2, _("speaks for it, strongly (2)")),
    (1, _("speaks for it, a little (1)")),
    (-1, _("speaks against it, a little (-1)")),
    (-2, _("speaks against it, strongly (-2)")),
    (-3, _("speaks against it, very strongly (-3)")),
]


class ProposalForm(forms.Form):
    """A rule or a source, where it stands, and for a cause what a clue says of it here."""

    def __init__(self, *args, about: str, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["text"] = words(
            _("The rule, in plain words"),
            LONGEST_TEXT,
            required=True,
            help_text=_("Whoever reads the handbook reads this. Name and blame nobody."),
        )
        self.fields["text_es"] = words(_("The same in Spanish"), LONGEST_TEXT)
        self.fields["rests_on"] = choice(
            _("What it rests on"),
            [(PUBLISHED, _("a text or a record, named below")), *MARKS.items()],
            radio=True,
        )
        self.fields["source"] = line(
            _("Which text or record"),
            LONGEST_SOURCE,
            help_text=_("For example: Town Gardens, mowing plan 2026, page 3."),
        )
        if about == LocalRule.About.CAUSE:
            clues = [(code, said(clue.label)) for code, clue in book().clues.items()]
            self.fields["clue"] = choice(
                _("A clue that says more of this cause here than elsewhere"), clues, required=False
            )
            self.fields["weight"] = choice(_("What it says"), WEIGHTS, required=False)

    def clean(self):
        given = super().clean()
        rests_on = given.get("rests_on")
        if rests_on == PUBLISHED and not given.get("source") and "source" not in self.errors:
            self.add_error("source", _("Name the text or the record."))
        if rests_on in MARKS and given.get("source"):
            self.add_error(
                "source",
                _("You chose a mark above and named a text as well. Keep one of the two."),
            )
        return given

    def proposal(self) -> dict:
        """What was typed, as the action wants it."""
        given = self.cleaned_data
        mark = given["rests_on"] if given["rests_on"] in MARKS else ""
        return {
            "text": given["text"],
            "text_es": given["text_es"],
            "source": mark or given["source"],
            "clue": given.get("clue", ""),
            "weight": int(given["weight"]) if given.get("weight") else None,
        }


class WithdrawalForm(forms.Form):
    reason = line(_("Why it counts no more"), LONGEST_REASON, required=True)
