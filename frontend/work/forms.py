"""What is typed about a work order."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from django import forms
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from frontend.field.forms import choice, day_field, line, words
from frontend.field.photos import PhotoField
from frontend.work.put_on import CoatFields, FeedFields
from survey.handbook.book import book
from survey.handbook.wording import said
from survey.trees.models import Area, Tree
from survey.workorders.actions import LineResult
from survey.workorders.models import OrderLine, WorkOrder

MOST_TAGS = 200
DOSE = 160


def a_day(label, **kwargs) -> forms.DateField:
    """A day that may still come."""
    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    return forms.DateField(label=label, widget=widget, **kwargs)


def cares() -> list[tuple[str, str]]:
    return [(care.code, said(care.label)) for care in book().care.values()]


class TagsField(forms.CharField):
    """Tags or references, in any order; cleans to trees of the area."""

    def __init__(self, *, area: Area, **kwargs):
        super().__init__(
            required=False,
            max_length=4000,
            widget=forms.Textarea(attrs={"rows": 2}),
            help_text=_("With spaces or commas between them, for example: 0401 0402 0413."),
            **kwargs,
        )
        self.area = area

    def clean(self, value) -> list[Tree]:
        typed = list(dict.fromkeys(re.split(r"[\s,;]+", super().clean(value).strip())))
        typed = [word for word in typed if word]
        if len(typed) > MOST_TAGS:
            raise forms.ValidationError(_("That is more than %d trees.") % MOST_TAGS)
        trees = Tree.objects.filter(Q(tag__in=typed) | Q(ref__in=typed), area=self.area)
        found = list(trees.select_related("site", "area"))
        known = {tree.tag for tree in found} | {tree.ref for tree in found}
        if missing := [word for word in typed if word not in known]:
            raise forms.ValidationError(
                _("No tree has this tag or reference: %s") % ", ".join(missing[:10])
            )
        return found


class FrameForm(forms.Form):
    """Why, who, and in which window."""

    def __init__(self, *args, area: Area, **kwargs):
        super().__init__(*args, **kwargs)
        self.area = area
        self.fields["why"] = words(_("Why"), 500, required=True)
        self.fields["why"].widget.attrs["rows"] = 2
        self.fields["who"] = choice(_("Who may do it"), WorkOrder.Who.choices, radio=True)
        self.fields["window_from"] = a_day(_("First day"))
        self.fields["window_to"] = a_day(_("Last day"))

    def frame(self) -> dict:
        return {
            name: self.cleaned_data[name] for name in ("why", "who", "window_from", "window_to")
        }


class CareFields:
    """Kinds of care to tick, each with a dose of its own, and trees given by their tags."""

    def add_care(self) -> None:
        self.fields["tags"] = TagsField(area=self.area, label=_("Trees by their tags"))
        self.fields["care"] = forms.MultipleChoiceField(
            label=_("Which care"),
            choices=cares(),
            widget=forms.CheckboxSelectMultiple,
            required=False,
        )
        for code, label in cares():
            self.fields[f"dose_{code}"] = line(label, DOSE)

    def care_rows(self):
        boxes = {box.data["value"]: box for box in self["care"]}
        for code, care in book().care.items():
            who = ", ".join(str(WorkOrder.Who(worker).label) for worker in care.who)
            yield {"box": boxes[code], "dose": self[f"dose_{code}"], "care": care, "who": who}

    def lines_for(self, trees: Iterable[Tree]) -> list[tuple[Tree, str, str]]:
        given = self.cleaned_data
        return [
            (tree, code, given.get(f"dose_{code}") or "")
            for tree in trees
            for code in given.get("care", ())
        ]


class OrderForm(CareFields, FrameForm):
    """A new order: trees to tick, care to tick."""

    def __init__(self, *args, trees: Sequence[Tree] = (), with_message=False, dead=None, **kwargs):
        super().__init__(*args, **kwargs)
        self.trees = {tree.ref: tree for tree in trees}
        if dead is not None:
            self.fields["three_steps"] = forms.BooleanField(
                label=_("It is dead: find out why, take it down, plant another"),
                help_text=_("Three orders, each for the people who may do it."),
                required=False,
            )
        if trees:
            self.fields["trees"] = forms.MultipleChoiceField(
                label=_("Which trees"),
                choices=[(tree.ref, str(tree)) for tree in trees],
                widget=forms.CheckboxSelectMultiple,
                required=False,
            )
        self.add_care()
        if with_message:
            self.fields["message"] = words(
                _("What the neighbor will read"), help_text=_("It leaves in ten minutes.")
            )

    def clean(self):
        given = super().clean()
        if given.get("three_steps") or self.errors:
            return given
        picked = [self.trees[ref] for ref in given.get("trees", ())]
        more = [tree for tree in given.get("tags", ()) if tree.ref not in given.get("trees", ())]
        given["picked"] = [*picked, *more]
        if not given["picked"]:
            self.add_error("trees" if "trees" in self.fields else "tags", _("Choose the trees."))
        if not given.get("care"):
            self.add_error("care", _("Choose what is to be done."))
        return given


class ChangeForm(CareFields, FrameForm):
    """An order that is not done yet: its lines to keep, and others to add."""

    version = forms.IntegerField(widget=forms.HiddenInput, min_value=0)

    def __init__(self, *args, lines: Sequence[OrderLine], **kwargs):
        super().__init__(*args, **kwargs)
        self.lines = lines
        for row in lines:
            self.fields[f"keep{row.pk}"] = forms.BooleanField(
                label=str(row.tree), required=False, initial=True
            )
            self.fields[f"dose{row.pk}"] = line(_("dose"), DOSE, initial=row.dose)
        self.add_care()

    def line_rows(self):
        for row in self.lines:
            yield {"line": row, "keep": self[f"keep{row.pk}"], "dose": self[f"dose{row.pk}"]}

    def wanted(self) -> list[tuple[Tree, str, str]]:
        given = self.cleaned_data
        kept = [
            (row.tree, row.care, given[f"dose{row.pk}"])
            for row in self.lines
            if given[f"keep{row.pk}"]
        ]
        trees = given["tags"] or list({row.tree_id: row.tree for row in self.lines}.values())
        there = {(tree.pk, care) for tree, care, _dose in kept}
        return kept + [row for row in self.lines_for(trees) if (row[0].pk, row[1]) not in there]


class PlanForm(forms.Form):
    """The day, the people, and the answered ticket."""

    version = forms.IntegerField(widget=forms.HiddenInput, min_value=0)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["planned_for"] = a_day(_("Day"))
        self.fields["team"] = line(_("Team"), 120, help_text=_("A team or a firm will do."))
        self.fields["utility_ticket"] = line(_("Utilities have all answered ticket no."), 60)
        self.fields["utility_ticket_until"] = a_day(_("The ticket is valid to"), required=False)


class DropForm(forms.Form):
    """Why an order is given up."""

    version = forms.IntegerField(widget=forms.HiddenInput, min_value=0)
    reason = line(_("Drop it, because"), 300, required=True)


class DoneForm(forms.Form):
    """What became of every line."""

    version = forms.IntegerField(widget=forms.HiddenInput, min_value=0)
    photo1 = PhotoField(label=_("Photo"))
    photo2 = PhotoField(label=_("Another photo"))
    photo3 = PhotoField(label=_("A third one"))

    def __init__(
        self,
        *args,
        area: Area,
        lines: Sequence[OrderLine],
        system="us",
        closed: Mapping[int, Sequence[str]] | None = None,
        planned: Mapping[str, Any] | None = None,
        **kwargs,
    ):
        super().__init__(*args, **kwargs)
        today = area.today()
        self.lines, self.closed = lines, closed or {}
        self.put_on = [
            kind(self, [line for line in lines if line.care == kind.care], system, planned or {})
            for kind in (CoatFields, FeedFields)
            if any(line.care == kind.care for line in lines)
        ]
        self.fields["done_on"] = day_field(_("Done on"), today=today, initial=today)
        self.fields["done_by"] = line(
            _("Done by"), 120, required=True, help_text=_("A team or a firm will do.")
        )
        self.fields["notes"] = words(_("Notes"))
        self.fields["rest"] = forms.BooleanField(
            label=_("Everything that I leave unmarked was done"),
            help_text=_("What is closed is never done by this: mark it, and say why."),
            required=False,
        )
        outcomes = [("given", _("done")), ("not_done", _("not done"))]
        for row in lines:
            self.fields[f"line{row.pk}"] = forms.ChoiceField(
                label=f"{row.tree}", choices=outcomes, widget=forms.RadioSelect, required=False
            )
            self.fields[f"remark{row.pk}"] = line(_("remark, or why not"), 300)
            hint = _("remark, or why not")
            if row.pk in self.closed:
                hint = _("why it was done, or why not")
                self.fields[f"remark{row.pk}"].label = hint
            self.fields[f"remark{row.pk}"].widget.attrs["placeholder"] = hint
            if row.care == "remove_dead_tree":
                self.fields[f"left{row.pk}"] = choice(
                    _("The tree"),
                    [
                        (Tree.Left.DIED, _("was dead when it came down")),
                        (Tree.Left.REMOVED_HEALTH, _("was alive: taken down for health or safety")),
                        (Tree.Left.REMOVED_OTHER, _("was alive: taken down for another reason")),
                    ],
                    required=False,
                )

    def rows(self):
        for row in self.lines:
            yield {
                "line": row,
                "outcome": self[f"line{row.pk}"],
                "remark": self[f"remark{row.pk}"],
                "closed": self.closed.get(row.pk, ()),
                "left": self[f"left{row.pk}"] if f"left{row.pk}" in self.fields else None,
            }

    def outcome_of(self, row: OrderLine, given: Mapping[str, Any]) -> str:
        """What was marked; what is left unmarked was done if that is ticked and it is open."""
        rest = given.get("rest") and row.pk not in self.closed
        return given.get(f"line{row.pk}") or (OrderLine.Outcome.GIVEN if rest else "")

    def _check_closed(self, row: OrderLine, outcome: str, remark: str) -> None:
        words = {"tree": row.tree, "why": " ".join(self.closed[row.pk])}
        if not outcome:
            text = _("%(tree)s is closed: was it really done? %(why)s")
            self.add_error(f"line{row.pk}", text % words)
        elif outcome == OrderLine.Outcome.GIVEN and not remark:
            text = _("%(tree)s was closed. Say why it was done all the same. %(why)s")
            self.add_error(f"line{row.pk}", text % words)

    def clean(self):
        given = super().clean()
        given["results"] = {}
        put_on = {fields.care: fields for fields in self.put_on}
        for fields in self.put_on:
            fields.check(given)
        for row in self.lines:
            outcome = self.outcome_of(row, given)
            if row.pk in self.closed:
                self._check_closed(row, outcome, given.get(f"remark{row.pk}") or "")
            elif not outcome:
                self.add_error(f"line{row.pk}", _("%s: done, or not done?") % row.tree)
            given["results"][row.pk] = LineResult(
                outcome=outcome,
                remark=given.get(f"remark{row.pk}") or "",
                left=given.get(f"left{row.pk}") or "",
            )
        many = {
            care: sum(
                given["results"][row.pk].outcome == OrderLine.Outcome.GIVEN
                for row in self.lines
                if row.care == care
            )
            for care in put_on
        }
        for row in self.lines:
            if row.care in put_on and many[row.care] and not self.errors:
                more = put_on[row.care].result(given, many[row.care])
                given["results"][row.pk] = replace(given["results"][row.pk], **more)
        return given
