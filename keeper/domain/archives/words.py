"""What every table and column means, for whoever opens an archive in twenty years.

A column's own help text comes first where it has one; what is missing there stands here. A guard
asks that no column is without words.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from django.db.models import Field, ForeignKey, Model

from keeper.domain.archives.tables import Table

# Columns that mean the same wherever they are.
_COMMON: Mapping[str, str] = MappingProxyType(
    {
        "id": "The row's number, to which other tables refer.",
        "withdrawn_at": "When the record was withdrawn; empty: it counts.",
        "withdrawn_reason": "Why it was withdrawn.",
        "notes": "Anything else, as the keeper wrote it.",
        "note": "Anything else, as the keeper wrote it.",
        "species": "Of which species.",
        "animal": "Of which animal.",
        "trait": "Of which trait.",
        "line": "Of which line of the trait; empty: line not known, or all of its lines together.",
        "project": "Of which project.",
        "entry": "The entry of the daybook that made the row.",
        "source": "Whose word it is.",
        "paper": "The document in which it is said.",
        "by": "Who did it.",
        "on": "On which day.",
        "sex": "Female, male or not known.",
        "dam": "The mother.",
        "sire": "The father.",
        "claim": "What the source says: visual, double (two copies), carries (100 % het), possible "
        "(het, with a chance) or clear; by a signed paper papers (what it came with) or results "
        "(what it bred elsewhere).",
        "identity": "The same in every copy of the book and on papers, whatever becomes of the "
        "code.",
    }
)
_OF_HISTORIES: Mapping[str, str] = MappingProxyType(
    {
        "history_id": "The number of this row of the history.",
        "m2m_history_id": "The number of this row of the history.",
        "history": "Of which row of the record's history this is a part.",
        "history_date": "When the record was saved so.",
        "history_change_reason": "Why, as far as there was room for it.",
        "history_type": "+ made, ~ changed, - removed.",
        "history_user": "Who saved it.",
        "id": "The number of the record whose history this is.",
    }
)
# The rest, by table and column.
_OWN: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {
        "account": {
            "name": "The person's name in the book.",
            "login_name": "The same in the one spelling by which it logs in.",
            "role": "The owner, of whom there is one, a helper, or a viewer, who writes nothing.",
            "sees_people": "Whether sources, buyers and sellers are shown to it.",
            "sees_prices": "Whether prices are shown to it.",
            "joined": "Since when there is the account.",
            "is_active": "Whether it could log in.",
        },
        "animal": {
            "code": "What the keeper calls it; used once among records that count.",
            "name": "A name beside the code.",
            "sex_told": "How its sex was told.",
            "hatched_year": "The year it hatched in, also where the day is not known.",
            "place": "Where it is kept: rack, tub, room.",
            "hatched_on": "The day it hatched.",
            "acquired_on": "The day it came here.",
            "source": "From whom it came.",
            "dam": "The mother as stated, of an animal without a clutch in the book.",
            "sire": "The father as stated, of an animal without a clutch in the book.",
            "clutch": "The clutch it hatched from, which names its parents.",
            "hatch_row": "The row of the hatch in which it is counted.",
            "status": "Where it is in its life here: kept, offered, sold, lent or died.",
            "status_since": "Since when it is so.",
        },
        "arising": {
            "animal": "The animal with which the gene began.",
            "line": "The line that began.",
        },
        "baserate": {"mishap": "What kind of thing may go wrong."},
        "breedingevent": {
            "kind": "Introduced (put together), lock, separated, follicles, ovulation or shed.",
        },
        "candidatesire": {
            "clutch": "Which clutch he may have sired.",
            "sire": "The male; empty: one not recorded, or none.",
            "share": "How likely, in proportion to the other candidates, before anything hatched.",
            "alone": "Whether the clutch may be of its dam alone, without a male.",
        },
        "clutch": {
            "code": "What the keeper calls it; used once among records that count.",
            "paternity": "Whether one male sired it or several may each have sired some.",
            "laid_on": "The day it was laid.",
            "slugs": "Infertile eggs.",
            "hatched_on": "The day it hatched.",
        },
        "condition": {
            "showing": "Of which combination it is a part.",
            "dose": "How many copies of the lines there must be.",
        },
        "clutchstep": {
            "clutch": "Of which clutch.",
            "animal": "Of which young; empty: of eggs, or of young without a record.",
            "kind": "Candled, lost, pip (the first), first-shed, first-meal or ready (to go).",
            "count": "Eggs that were fertile or lost, or young without a record.",
        },
        "contact": {"name": "What the person or business is called."},
        "daybookentry": {
            "at": "When it was done.",
            "by": "Who did it; empty: the program.",
            "what": "What was done, in words.",
            "reason": "Why.",
            "day": "The day that it tells of, where its records agree on one.",
            "insisted": "What the book asked and the keeper insisted on, a sentence a line.",
            "subject_type": "In which table the record is on whose page the entry belongs.",
            "subject_id": "Which row of that table.",
            "undone_by": "The entry that took this one back.",
            "token": "The form that asked for it, so that none is written twice.",
        },
        "dispute": {
            "conflict": "The records that cannot all be true: table, row and words of each.",
            "fingerprint": "One value for one set of records.",
            "opened": "The entry with which it began.",
            "closed": "The entry with which it ended; empty: it is open.",
        },
        "goallook": {"look": "The named look that must be seen."},
        "goalpart": {"need": "Shows it, carries at least one copy, or has two."},
        "hatchrow": {
            "clutch": "Of which clutch.",
            "count": "How many hatchlings looked so, those with a record of their own included.",
            "whole": "Whether everything was looked for, so that what is not named was not there.",
        },
        "import": {
            "name": "The file's name.",
            "file": "The file as it was sent.",
            "begun": "When.",
            "stage": "How far it is: columns, checked, writing, done or failed.",
            "version": "How often it was changed.",
            "sheets": "The names of the workbook's sheets.",
            "sheet": "The sheet that was read.",
            "table": "The sheet's cells as JSON, a list of rows of texts, packed by zlib.",
            "head_row": "The first row of the heads, from 1; 0: it has none.",
            "head_rows": "How many rows the heads take.",
            "heads": "The heads, one a column.",
            "picks": "What each column was taken to mean.",
            "choices": "What was chosen for all rows.",
            "answers": "What was answered to each question.",
            "mended": "By row and column the texts that were written in place of the file's.",
            "left_out": "The rows that were left out.",
            "seen": "What stands for the rows' fates as they were shown before writing.",
            "process": "Of the program that was writing it.",
            "problem": "Why it was not written.",
            "entry": "The entry that brought it in.",
        },
        "incubation": {
            "clutch": "Of which clutch.",
            "since": "Since when the eggs lie there.",
        },
        "interval": {"left": "One locus.", "right": "Its neighbour."},
        "laboratory": {"name": "What it is called."},
        "foretold": {"clutch": "Of which clutch."},
        "label": {
            "run": "With which others it was printed.",
            "animal": "Of which animal; empty: of something else.",
            "clutch": "Of which clutch; empty: of something else.",
            "place": "Of which place; empty: of something else.",
        },
        "labelrun": {"on": "The day they were printed."},
        "labtest": {
            "found": "How many copies it reports: none, carries (one or two), one or two.",
            "laboratory": "Who tested.",
            "on": "The day of the result.",
        },
        "line": {
            "locus": "At which locus it sits.",
            "name": "What the line is called.",
            "origin": "Where it comes from.",
        },
        "locus": {
            "name": "What it is called.",
            "chromosome": "An autosome, or which sex chromosome.",
        },
        "look": {"on": "The day on which everything was looked for."},
        "lookpart": {"look": "Of which named look it is a part."},
        "member": {
            "holdback": "Whether it is held back to be looked at again.",
            "since": "Since when it is in the project.",
            "review_on": "When to look at it again.",
            "released_on": "When it left the project.",
            "release_reason": "Why it left.",
        },
        "namedlook": {"name": "What the look is called."},
        "observation": {
            "look": "The whole look that it is a part of.",
            "seen": "Yes, no, or unsure where it could not be told.",
            "on": "The day of looking.",
        },
        "openpair": {"one": "One line.", "other": "The other line."},
        "pairword": {
            "one": "One line.",
            "other": "The other line.",
            "one_gene": "Whether they are said to be one gene (compatible), or two.",
        },
        "paper": {
            "animal": "What animal it speaks of.",
            "dated": "Its date.",
            "scan": "A picture or file of it.",
        },
        "photo": {
            "image": "The picture.",
            "width": "Its width in pixels.",
            "height": "Its height in pixels.",
            "taken_on": "The day it was taken.",
            "caption": "What is said below it.",
        },
        "chore": {"place": "Of which place; empty: of none."},
        "arrangement": {
            "clutch": "Of which clutch, if it is due of one.",
            "member": "Of which holdback, if it is due of one.",
        },
        "place": {"kind": "What it is: a room, a rack, a tub, an incubator or a shelf."},
        "plan": {"chosen_on": "The day the way was chosen."},
        "plannedpairing": {"dam": "The female.", "sire": "The male."},
        "planstep": {
            "plan": "Of which plan.",
            "number": "Its number in the plan.",
            "generation": "In which generation from now.",
            "dam": "The female, where she is at hand.",
            "dam_of": "The step that gives the female.",
            "sire": "The male, where he is at hand.",
            "sire_of": "The step that gives the male.",
            "sex": "The sex of what is kept.",
        },
        "project": {
            "name": "What it is called.",
            "sex": "The sex of the animals wanted; unknown: either.",
            "closed_on": "The day it was closed.",
        },
        "prospect": {
            "source": "Who offers it.",
            "seen_on": "The day it was seen on offer.",
            "hatched_year": "The year it is said to have hatched in.",
            "bought": "The animal of the book that it became.",
        },
        "prospectword": {"prospect": "Of which animal on offer."},
        "rowsighting": {
            "row": "Of which row of a hatch.",
            "seen": "Seen, not seen, or empty where it could not be told.",
        },
        "sale": {"buyer": "To whom."},
        "savedview": {
            "account": "Whose it is.",
            "name": "What it is called.",
            "query": "The filters, as an address has them.",
        },
        "sheet": {
            "series": "Letters before its number; empty in the first life of a book.",
            "number": "Its number; none is used twice in a series.",
            "code": "What a buyer types to check it against the book.",
            "buyer": "To whom it was given.",
            "issued_at": "When.",
            "content": "What it says, word for word.",
        },
        "showing": {"trait": "Which trait this combination shows."},
        "shows": {
            "look": "Or which named look.",
            "chance": "How likely the animal shows it.",
            "error": "Half the width of the 95 % interval; 0 where it is exact.",
            "disputed": "Whether it rests on records that cannot all be true.",
            "pieces": "Its parts that are worked out apart, by their loci.",
        },
        "showschange": {
            "look": "Or which named look.",
            "chance_before": "How likely the animal showed it before; 0: it could not.",
            "disputed_before": "Whether it was disputed before.",
            "chance": "How likely the animal shows it since.",
            "disputed": "Whether it is disputed since.",
        },
        "species": {
            "name": "What it is called.",
            "scientific_name": "Its scientific name.",
            "sex_determination": "How sex comes about.",
            "female_mature_months": "From what age in months females breed at the earliest.",
            "male_mature_months": "From what age in months males breed at the earliest.",
            "eggs_usual": "Eggs of a usual clutch.",
            "eggs_most": "Eggs of the largest clutch to be expected.",
            "incubation_days": "Days from laying to hatching.",
            "incubation_least": "The fewest such days to be expected.",
            "incubation_most": "The most such days to be expected.",
            "figures_source": "Where these figures come from.",
            "bearing": "Lays eggs, or bears live young.",
            "ovulation_shed_least": "Fewest days from ovulation to the shed before laying.",
            "ovulation_shed_most": "Most days from ovulation to the shed before laying.",
            "shed_laying_least": "Fewest days from that shed to laying.",
            "shed_laying_most": "Most days from that shed to laying.",
            "ovulation_birth_least": "Fewest days from ovulation to birth, of live-bearers.",
            "ovulation_birth_most": "Most days from ovulation to birth, of live-bearers.",
            "hatch_shed_least": "Fewest days from hatching to the first shed.",
            "hatch_shed_most": "Most days from hatching to the first shed.",
            "shed_meal_least": "Fewest days from the first shed to the first meal.",
            "shed_meal_most": "Most days from the first shed to the first meal.",
            "fertile_days": "For how many days before laying a mating may be that of the clutch.",
            "lock_weight": "What a seen lock weighs where being put together weighs 1.",
            "stores_sperm": "Whether females keep sperm from one season to the next.",
            "way_source": "Where the days and weights of a clutch's way come from.",
        },
        "standing": {
            "two": "Chance of two copies.",
            "one": "Chance of one copy.",
            "none": "Chance of no copy.",
            "mixed": "Chance of copies at two different loci of the look.",
            "error": "Half the width of the 95 % interval; 0 where it is exact.",
            "apart": "Whether words on animals that came together were weighed each by itself.",
            "customary": "The figure of the trade, from the parents alone.",
            "word": "In what sense the animal carries it: visual, proven, parentage, tested, labs, "
            "deduced, stated, possible, clean or absent.",
            "clean_young": "Hatchlings that could have shown it and did not.",
            "proof_looks": "Looks at its hatchlings that a proof rests on.",
            "proof_young": "So many hatchlings that a proof rests on.",
            "proof_clutches": "So many clutches that a proof rests on.",
            "dispute": "The dispute that the figure depends on.",
        },
        "standingchange": {
            "word_before": "The word before; empty: there was no standing.",
            "two_before": "Chance of two copies before.",
            "none_before": "Chance of no copy before.",
            "disputed_before": "Whether it was disputed before.",
            "word": "The word since.",
            "two": "Chance of two copies since.",
            "none": "Chance of no copy since.",
            "disputed": "Whether it is disputed since.",
        },
        "statement": {"animal": "The animal that is spoken of."},
        "surprise": {
            "clutch": "Of which clutch.",
            "text": "What was unlikely, in words.",
            "chance": "How likely it was.",
            "looked_at": "The entry with which the keeper had looked at it.",
        },
        "survival": {
            "locus": "At which locus.",
            "one": "One copy of the genotype.",
            "other": "The other copy; empty: the wild type.",
            "source": "Who says so.",
        },
        "touch": {
            "record_type": "In which table the record is.",
            "record_id": "Which row of that table.",
            "history_id": "Its row in the history table, as the entry left it.",
            "created": "Whether the entry made the record.",
        },
        "trait": {
            "name": "What it is called.",
            "shown": "How it is inherited: how many copies of its lines show it.",
        },
    }
)


def of_table(table: Table) -> str:
    """What the rows of a table are, in a sentence or two."""
    if table.record is not None:
        return f"How the rows of {table.record._meta.model_name} were at each save, oldest first."
    if table.model._meta.auto_created:
        of, _, named = table.name.partition("_")
        return f"Which rows belong together: {of} and its {named}."
    first, _, _ = (table.model.__doc__ or "").strip().partition("\n\n")
    return " ".join(first.split())


def of_column(table: Table, field: "Field[Any, Any]") -> str:
    """What a column means; nothing where nobody has said so, which a guard refuses."""
    if table.record is not None:
        if field.name in _OF_HISTORIES:
            return _OF_HISTORIES[field.name]
        return _of(table.record, field)
    return _of(table.model, field)


def _of(model: type[Model], field: "Field[Any, Any]") -> str:
    if model._meta.auto_created and isinstance(field, ForeignKey):
        return f"The row of {field.related_model._meta.model_name}."
    own = _OWN.get(str(model._meta.model_name), {}).get(field.name)
    asked = {one.name: str(one.help_text) for one in model._meta.concrete_fields}
    return own or asked.get(field.name, "") or _COMMON.get(field.name, "")
