"""Shows Django the tables of every room. Rooms never import from here."""

from survey.audit.models import Entry
from survey.causes.models import ClueNoted, Finding, LocalRule, Verdict
from survey.chores.models import Chore, Schedule
from survey.condition.models import (
    Belief,
    Learning,
    Outlook,
    Overruling,
    SiteMonth,
    Turn,
    Weight,
)
from survey.people.models import (
    Contact,
    Mail,
    Observer,
    PairedWalk,
    Person,
    PracticeRound,
)
from survey.photos.models import Photo
from survey.reports.models import Decision, DeskNote, Draft, Reply, Report, ReportSign
from survey.survival.models import CareCompared, Figure, Group, LooksWeighed, Stand
from survey.trees.measured import CoatGiven, FeedGiven, WoundMeasure
from survey.trees.models import (
    Acceptance,
    Area,
    CareGiven,
    Happening,
    LandManager,
    LocalSpecies,
    Look,
    LookSign,
    Permission,
    Planting,
    Site,
    StemMeasure,
    Tree,
    Weather,
)
from survey.workorders.models import OrderLine, Trial, TrialTree, WorkOrder

__all__ = [
    "Acceptance",
    "Area",
    "Belief",
    "CareCompared",
    "CareGiven",
    "Chore",
    "ClueNoted",
    "CoatGiven",
    "Contact",
    "Decision",
    "DeskNote",
    "Draft",
    "Entry",
    "FeedGiven",
    "Figure",
    "Finding",
    "Group",
    "Happening",
    "LandManager",
    "Learning",
    "LocalRule",
    "LocalSpecies",
    "Look",
    "LookSign",
    "LooksWeighed",
    "Mail",
    "Observer",
    "OrderLine",
    "Outlook",
    "Overruling",
    "PairedWalk",
    "Permission",
    "Person",
    "Photo",
    "Planting",
    "PracticeRound",
    "Reply",
    "Report",
    "ReportSign",
    "Schedule",
    "Site",
    "SiteMonth",
    "Stand",
    "StemMeasure",
    "Tree",
    "Trial",
    "TrialTree",
    "Turn",
    "Verdict",
    "Weather",
    "Weight",
    "WorkOrder",
    "WoundMeasure",
]
