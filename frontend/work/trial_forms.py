"""What is typed about a side by side trial."""

from django import forms
from django.utils.translation import gettext_lazy as _

from frontend.field.forms import choice, line
from frontend.work.forms import TagsField, a_day, cares
from survey.trees.models import Area, Tree


class TrialForm(forms.Form):
    """The question, the care and what the others get, the trees, and the day of the answer."""

    def __init__(self, *args, area: Area, trees: list[Tree], **kwargs):
        super().__init__(*args, **kwargs)
        self.trees = {tree.ref: tree for tree in trees}
        self.fields["question"] = line(
            _("What do you want to know?"),
            300,
            required=True,
            help_text=_("For example: do rings keep the mowers away by themselves?"),
        )
        self.fields["care"] = choice(_("Half the trees get"), cares())
        self.fields["instead"] = line(
            _("The others get"), 160, required=True, initial=_("the usual care")
        )
        self.fields["until"] = a_day(_("The answer is read on"))
        if trees:
            self.fields["trees"] = forms.MultipleChoiceField(
                label=_("Which trees"),
                choices=[(tree.ref, str(tree)) for tree in trees],
                widget=forms.CheckboxSelectMultiple,
                required=False,
                initial=[tree.ref for tree in trees],
            )
        self.fields["tags"] = TagsField(area=area, label=_("Trees by their tags"))

    def clean(self):
        given = super().clean()
        picked = [self.trees[ref] for ref in given.get("trees", ())]
        more = [tree for tree in given.get("tags") or () if tree not in picked]
        given["picked"] = [*picked, *more]
        if len(given["picked"]) < 2 and not self.errors:
            self.add_error(
                "trees" if "trees" in self.fields else "tags",
                _("A trial needs at least two trees."),
            )
        return given


class EndForm(forms.Form):
    because = line(_("It ends, because"), 300, required=True)
