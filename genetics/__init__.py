"""Exact inference of what animals carry, from a whole book of pedigrees and observations.

    population = Population(loci=..., animals=..., clutches=...)   # checks itself
    solved = solve(population)                                     # every number at once
    solved.posterior("K1", "sg")                                   # {'+/+': 0.33, ...}
    solved.changed(animals=[...], clutches=[...])                  # a clutch later

Names are loaded when they are first used, so that importing the package costs nothing.  All that
code outside of the package may use is named here, twice: where each name lives, and for checkers
of types what it is (`tests/genetics/test_public_names.py` compares the two).
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

_HOME = {
    "animal_table": ("AnimalTable",),
    "answers": ("answer",),
    "arrays": ("Floats",),
    "copies": ("Copies", "Count", "Counted", "count_copies"),
    "parents_alone": ("Alone", "by_parents_alone"),
    "subproblems": (
        "AnotherEngine", "Answer", "Subproblem", "answer_packet", "answered", "fingerprint", "pack",
        "unpack_answers",
    ),
    "casefile": ("answer_case", "read_case", "write_case"),
    "clutch_size": ("FixedClutch", "eggs_needed"),
    "compiled": ("warm_up",),
    "components": ("Components",),
    "conflict": ("kept_only", "smallest_conflict"),
    "couple": (
        "couple_kinds", "couple_query", "goal_kinds", "goal_query", "joint", "pair_keys",
        "sexed_kinds",
    ),
    "crosses": ("couple_chances", "cross", "cross_alone"),
    "diversity": ("Diversity", "effective_size"),
    "errors": ("BeyondExact", "GeneticsError", "ImpossibleEvidence", "MalformedCase"),
    "explain": ("all_but", "known_only"),
    "couple_goals": ("CarrierQuestion", "GoalChances", "goal_chances", "test_bits"),
    "json_values": ("JsonObject",),
    "kinship": ("Pedigree", "kinship_pairs"),
    "plans.forecast": ("Forecast", "Reached", "forecast", "forecast_query"),
    "plans.matings": ("Mixture", "TestMating", "matings", "mixtures"),
    "plans.questions": ("ForecastQuestion", "RoutesQuestion", "SeasonQuestion", "TestQuestion"),
    "plans.routes": ("Route", "RouteStep", "routes"),
    "plans.season": ("Chosen", "Season", "best_pairs"),
    "population": (
        "NO_SIRE", "Animal", "Case", "Chromosome", "Clutch", "Couple", "FounderRow", "Goal",
        "Interval", "JointQuestion", "Linkage", "Locus", "Number", "OffspringQuestion",
        "Paternity", "Population", "Questions", "Retained", "SameLocus", "Sex",
        "SexDetermination", "Sighting", "Statement", "TallyLine", "Trait", "Viability",
    ),
    "record_names": ("OwnerKind", "RecordName", "records", "tally_line"),
    "relatives": ("pedigree",),
    "relevance": ("relevant",),
    "scenarios": ("Scenario", "forecast_packet", "forecasts", "unpack_forecasts"),
    "shown": ("LookAsked", "LookChance", "ShownPart", "can_be_seen", "look_chances"),
    "solving": ("Partition", "Solved", "Spaces", "World", "hypotheses", "solve", "solve_or_apart"),
    "testing": ("MateReport", "against_carrier", "against_kinds", "against_visual", "rank_mates"),
    "working": (
        "carrying_child", "clean_offspring", "clean_offspring_of_open_line", "clean_test",
        "founder_papers", "normal_child", "normal_linked_child", "parents_cross", "positive_test",
        "shown_by_either_place", "shown_by_now", "single_copy_offspring", "single_linked_child",
        "two_copies_shown", "unseen_look",
    ),
    "version": ("VERSION",),
    "worksheet": ("Parent", "Working"),
}  # fmt: skip
_MODULE_OF = {name: module for module, names in _HOME.items() for name in names}

if TYPE_CHECKING:
    from genetics.animal_table import AnimalTable as AnimalTable
    from genetics.answers import answer as answer
    from genetics.arrays import Floats as Floats
    from genetics.casefile import answer_case as answer_case
    from genetics.casefile import read_case as read_case
    from genetics.casefile import write_case as write_case
    from genetics.clutch_size import FixedClutch as FixedClutch
    from genetics.clutch_size import eggs_needed as eggs_needed
    from genetics.compiled import warm_up as warm_up
    from genetics.components import Components as Components
    from genetics.conflict import kept_only as kept_only
    from genetics.conflict import smallest_conflict as smallest_conflict
    from genetics.copies import Copies as Copies
    from genetics.copies import Count as Count
    from genetics.copies import Counted as Counted
    from genetics.copies import count_copies as count_copies
    from genetics.couple import couple_kinds as couple_kinds
    from genetics.couple import couple_query as couple_query
    from genetics.couple import goal_kinds as goal_kinds
    from genetics.couple import goal_query as goal_query
    from genetics.couple import joint as joint
    from genetics.couple import pair_keys as pair_keys
    from genetics.couple import sexed_kinds as sexed_kinds
    from genetics.couple_goals import CarrierQuestion as CarrierQuestion
    from genetics.couple_goals import GoalChances as GoalChances
    from genetics.couple_goals import goal_chances as goal_chances
    from genetics.couple_goals import test_bits as test_bits
    from genetics.crosses import couple_chances as couple_chances
    from genetics.crosses import cross as cross
    from genetics.crosses import cross_alone as cross_alone
    from genetics.diversity import Diversity as Diversity
    from genetics.diversity import effective_size as effective_size
    from genetics.errors import BeyondExact as BeyondExact
    from genetics.errors import GeneticsError as GeneticsError
    from genetics.errors import ImpossibleEvidence as ImpossibleEvidence
    from genetics.errors import MalformedCase as MalformedCase
    from genetics.explain import all_but as all_but
    from genetics.explain import known_only as known_only
    from genetics.json_values import JsonObject as JsonObject
    from genetics.kinship import Pedigree as Pedigree
    from genetics.kinship import kinship_pairs as kinship_pairs
    from genetics.parents_alone import Alone as Alone
    from genetics.parents_alone import by_parents_alone as by_parents_alone
    from genetics.plans.forecast import Forecast as Forecast
    from genetics.plans.forecast import Reached as Reached
    from genetics.plans.forecast import forecast as forecast
    from genetics.plans.forecast import forecast_query as forecast_query
    from genetics.plans.matings import Mixture as Mixture
    from genetics.plans.matings import TestMating as TestMating
    from genetics.plans.matings import matings as matings
    from genetics.plans.matings import mixtures as mixtures
    from genetics.plans.questions import ForecastQuestion as ForecastQuestion
    from genetics.plans.questions import RoutesQuestion as RoutesQuestion
    from genetics.plans.questions import SeasonQuestion as SeasonQuestion
    from genetics.plans.questions import TestQuestion as TestQuestion
    from genetics.plans.routes import Route as Route
    from genetics.plans.routes import RouteStep as RouteStep
    from genetics.plans.routes import routes as routes
    from genetics.plans.season import Chosen as Chosen
    from genetics.plans.season import Season as Season
    from genetics.plans.season import best_pairs as best_pairs
    from genetics.population import NO_SIRE as NO_SIRE
    from genetics.population import Animal as Animal
    from genetics.population import Case as Case
    from genetics.population import Chromosome as Chromosome
    from genetics.population import Clutch as Clutch
    from genetics.population import Couple as Couple
    from genetics.population import FounderRow as FounderRow
    from genetics.population import Goal as Goal
    from genetics.population import Interval as Interval
    from genetics.population import JointQuestion as JointQuestion
    from genetics.population import Linkage as Linkage
    from genetics.population import Locus as Locus
    from genetics.population import Number as Number
    from genetics.population import OffspringQuestion as OffspringQuestion
    from genetics.population import Paternity as Paternity
    from genetics.population import Population as Population
    from genetics.population import Questions as Questions
    from genetics.population import Retained as Retained
    from genetics.population import SameLocus as SameLocus
    from genetics.population import Sex as Sex
    from genetics.population import SexDetermination as SexDetermination
    from genetics.population import Sighting as Sighting
    from genetics.population import Statement as Statement
    from genetics.population import TallyLine as TallyLine
    from genetics.population import Trait as Trait
    from genetics.population import Viability as Viability
    from genetics.record_names import OwnerKind as OwnerKind
    from genetics.record_names import RecordName as RecordName
    from genetics.record_names import records as records
    from genetics.record_names import tally_line as tally_line
    from genetics.relatives import pedigree as pedigree
    from genetics.relevance import relevant as relevant
    from genetics.scenarios import Scenario as Scenario
    from genetics.scenarios import forecast_packet as forecast_packet
    from genetics.scenarios import forecasts as forecasts
    from genetics.scenarios import unpack_forecasts as unpack_forecasts
    from genetics.shown import LookAsked as LookAsked
    from genetics.shown import LookChance as LookChance
    from genetics.shown import ShownPart as ShownPart
    from genetics.shown import can_be_seen as can_be_seen
    from genetics.shown import look_chances as look_chances
    from genetics.solving import Partition as Partition
    from genetics.solving import Solved as Solved
    from genetics.solving import Spaces as Spaces
    from genetics.solving import World as World
    from genetics.solving import hypotheses as hypotheses
    from genetics.solving import solve as solve
    from genetics.solving import solve_or_apart as solve_or_apart
    from genetics.subproblems import AnotherEngine as AnotherEngine
    from genetics.subproblems import Answer as Answer
    from genetics.subproblems import Subproblem as Subproblem
    from genetics.subproblems import answer_packet as answer_packet
    from genetics.subproblems import answered as answered
    from genetics.subproblems import fingerprint as fingerprint
    from genetics.subproblems import pack as pack
    from genetics.subproblems import unpack_answers as unpack_answers
    from genetics.testing import MateReport as MateReport
    from genetics.testing import against_carrier as against_carrier
    from genetics.testing import against_kinds as against_kinds
    from genetics.testing import against_visual as against_visual
    from genetics.testing import rank_mates as rank_mates
    from genetics.version import VERSION as VERSION
    from genetics.working import carrying_child as carrying_child
    from genetics.working import clean_offspring as clean_offspring
    from genetics.working import clean_offspring_of_open_line as clean_offspring_of_open_line
    from genetics.working import clean_test as clean_test
    from genetics.working import founder_papers as founder_papers
    from genetics.working import normal_child as normal_child
    from genetics.working import normal_linked_child as normal_linked_child
    from genetics.working import parents_cross as parents_cross
    from genetics.working import positive_test as positive_test
    from genetics.working import shown_by_either_place as shown_by_either_place
    from genetics.working import shown_by_now as shown_by_now
    from genetics.working import single_copy_offspring as single_copy_offspring
    from genetics.working import single_linked_child as single_linked_child
    from genetics.working import two_copies_shown as two_copies_shown
    from genetics.working import unseen_look as unseen_look
    from genetics.worksheet import Parent as Parent
    from genetics.worksheet import Working as Working
else:

    def __getattr__(name: str) -> object:
        if name not in _MODULE_OF:
            raise AttributeError(f"module 'genetics' has no attribute {name!r}")
        found = getattr(import_module(f"genetics.{_MODULE_OF[name]}"), name)
        globals()[name] = found  # found without this function from now on
        return found

    def __dir__() -> list[str]:
        return sorted(_MODULE_OF)
