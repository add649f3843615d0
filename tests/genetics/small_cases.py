"""Small families, written by hand, for checks with known answers."""

from __future__ import annotations

from typing import Any

from tests.genetics.twin_genome import Case

RECESSIVE = {"id": "Saltgrass", "recessive_at": ["sg"]}
HET = {"sg": {"+/m": 1}}
VISUAL = {"sg": {"m/m": 1}}
NORMAL = {"sg": {"+/+": 1}}
POSSIBLE_HET = {"sg": {"+/+": "1/3", "+/m": "2/3"}}


def case(*animals: dict[str, Any], **parts: Any) -> Case:
    """A case with one autosomal recessive, unless other parts are named."""
    return {
        "case": 1,
        "sex_determination": "XY",
        "loci": [{"id": "sg", "alleles": ["+", "m"]}],
        "traits": [RECESSIVE],
        "animals": list(animals),
        **parts,
    }


def dam(founder: dict[str, Any] | None = None, **more: Any) -> dict[str, Any]:
    """A founding female, D."""
    return {"id": "D", "sex": "female", "founder": founder or {}, **more}


def sire(founder: dict[str, Any] | None = None, **more: Any) -> dict[str, Any]:
    """A founding male, S."""
    return {"id": "S", "sex": "male", "founder": founder or {}, **more}


def young(name: str = "K", **more: Any) -> dict[str, Any]:
    """An animal out of D by S."""
    return {"id": name, "dam": "D", "sire": "S", **more}


LINES: dict[str, Any] = {
    "loci": [{"id": "pa", "alleles": ["+", "p"]}, {"id": "pb", "alleles": ["+", "q"]}],
    "traits": [{"id": "Pale", "recessive_at": ["pa", "pb"]}],
    "same_locus": [{"loci": ["pa", "pb"], "prior": 0.3}],
}

RECOMBINING: dict[str, Any] = {
    "loci": [{"id": "sg", "alleles": ["+", "m"], "chromosome": "sex", "recombination": 0.05}],
    "traits": [{"id": "Saltgrass", "shown_by": [{"sg": ["+/m", "m/m"]}]}],
}
