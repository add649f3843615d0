"""The book's rows, one file per aggregate."""

from keeper.models.accounts import (
    Account,
    Invitation,
    LogIn,
    RecoveryCode,
    Role,
    SavedView,
    SecondFactor,
    login_name,
)
from keeper.models.animals import Animal, Look, Observation, Photo, Seen, Sex, SexTold, Status
from keeper.models.base_rates import BaseRate, Mishap
from keeper.models.chance import ChanceField, read_chance
from keeper.models.clutches import CandidateSire, Clutch, HatchRow, Paternity, RowSighting
from keeper.models.daybook import Book, DaybookEntry, Import, Stage, Touch, mark_of, new_epoch
from keeper.models.genes import (
    Chromosome,
    Condition,
    Dose,
    Interval,
    Line,
    Locus,
    OpenPair,
    Showing,
    Shown,
    Survival,
    Trait,
)
from keeper.models.lab_tests import Found, Laboratory, LabTest
from keeper.models.named_looks import LookPart, NamedLook
from keeper.models.origins import Arising, PairWord
from keeper.models.projects import (
    GoalLook,
    GoalPart,
    Member,
    Need,
    Plan,
    PlannedPairing,
    PlanStep,
    Project,
)
from keeper.models.prospects import Prospect, ProspectWord
from keeper.models.record import Record, Records
from keeper.models.sheets import Sheet
from keeper.models.sources import Claim, Contact, Paper, Said, Statement
from keeper.models.species import SexDetermination, Species
from keeper.models.standings import Dispute, Shows, Standing, StandingChange, Surprise, Word

__all__ = [
    "Account",
    "Animal",
    "Arising",
    "BaseRate",
    "Book",
    "CandidateSire",
    "ChanceField",
    "Chromosome",
    "Claim",
    "Clutch",
    "Condition",
    "Contact",
    "DaybookEntry",
    "Dispute",
    "Dose",
    "Found",
    "GoalLook",
    "GoalPart",
    "HatchRow",
    "Import",
    "Interval",
    "Invitation",
    "LabTest",
    "Laboratory",
    "Line",
    "Locus",
    "LogIn",
    "Look",
    "LookPart",
    "Member",
    "Mishap",
    "NamedLook",
    "Need",
    "Observation",
    "OpenPair",
    "PairWord",
    "Paper",
    "Paternity",
    "Photo",
    "Plan",
    "PlanStep",
    "PlannedPairing",
    "Project",
    "Prospect",
    "ProspectWord",
    "Record",
    "Records",
    "RecoveryCode",
    "Role",
    "RowSighting",
    "Said",
    "SavedView",
    "SecondFactor",
    "Seen",
    "Sex",
    "SexDetermination",
    "SexTold",
    "Sheet",
    "Showing",
    "Shown",
    "Shows",
    "Species",
    "Stage",
    "Standing",
    "StandingChange",
    "Statement",
    "Status",
    "Surprise",
    "Survival",
    "Touch",
    "Trait",
    "Word",
    "login_name",
    "mark_of",
    "new_epoch",
    "read_chance",
]
