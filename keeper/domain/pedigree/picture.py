"""A pedigree as it is shown: who of those that were read is a symbol, and what stands under it."""

from collections.abc import Collection, Iterable
from typing import NamedTuple

from keeper.domain.pedigree.genes import Gene, Told
from keeper.domain.pedigree.graph import Family, Pedigree, Union
from keeper.domain.pedigree.kin import Brood, Kin
from keeper.domain.pedigree.layout import Drawn, Line, Sizes, layout
from keeper.domain.pedigree.marks import LINE, STRIP, SYMBOL, Listed, Mark, Path, Picture
from keeper.domain.saying.counts import how_many
from keeper.domain.saying.figures import percent
from keeper.models import Animal, Clutch, HatchRow, Sex, Status

# Of a sibship with more young that have none themselves, those that are alike are one symbol.
_APART = 3
_LONGEST_CODE = 14
_LETTER = 7.6
_SEXES = {Sex.MALE: "male", Sex.FEMALE: "female", Sex.UNKNOWN: "sex not known"}


class Alike(NamedTuple):
    """Young of one family that are one symbol: their number, sex, whether they show the gene."""

    number: int
    sex: str
    shows: bool | None
    animals: tuple[int, ...]
    clutch: Clutch | None


def picture(
    kin: Kin,
    *,
    name: str,
    gene: Gene | None,
    genes: Iterable[Gene],
    told: dict[int, Told],
    focus: Collection[int] = (),
) -> Picture:
    """Draw who was read. `told`: what is said of each and the gene; `focus`: whose it is."""
    return _Painter(kin, gene, told, frozenset(focus)).painted(name, tuple(genes))


class _Painter:
    def __init__(
        self, kin: Kin, gene: Gene | None, told: dict[int, Told], focus: frozenset[int]
    ) -> None:
        self._kin, self._gene, self._told, self._focus = kin, gene, told, focus
        self._broods = kin.broods()
        self._breeders = {pk for one in self._broods for pk in one.parents.animals}
        self._alike: dict[str, Alike] = {}
        self._born_to: dict[str, Brood] = {}
        self._symbols: dict[str, None] = {}
        self._families = [self._family(at, one) for at, one in enumerate(self._broods)]
        folded = {pk for one in self._alike.values() for pk in one.animals}
        for pk in kin.animals:
            if pk not in folded:
                self._symbols.setdefault(str(pk))

    # ---- who is drawn -----------------------------------------------------------------------

    def _family(self, at: int, brood: Brood) -> Family:
        unions = []
        for number, one in enumerate(brood.parents.sires):
            dam = f"dam-{at}" if brood.parents.dam is None else str(brood.parents.dam)
            sire = f"sire-{at}-{number}" if one.sire is None else str(one.sire)
            unions.append(Union((dam,) if one.alone else (sire, dam)))
        young = [*self._young(brood), *self._tallied(at, brood)]
        for key in (*(key for one in unions for key in one.parents), *young):
            self._symbols.setdefault(key)
        self._born_to.update(dict.fromkeys(young, brood))
        return Family(tuple(unions), tuple(young))

    def _young(self, brood: Brood) -> list[str]:
        """Young with a record; of many that have none themselves, those alike as one symbol."""
        plain = [pk for pk in brood.young if pk not in self._breeders | self._focus]
        groups: dict[object, list[int]] = {}
        for pk in plain if len(plain) > _APART else ():
            one, told = self._kin.animals[pk], self._told.get(pk)
            short = told and (told.short, told.codes)
            look = (one.sex, one.status == Status.DIED, one.is_withdrawn, short)
            groups.setdefault(look, []).append(pk)
        folded = {pk: all_ for all_ in groups.values() if len(all_) > 1 for pk in all_}
        keys: dict[str, None] = {}
        for pk in brood.young:
            if pk not in folded:
                keys.setdefault(str(pk))
                continue
            alike = folded[pk]
            key = f"alike-{alike[0]}"
            keys.setdefault(key)
            sex = self._kin.animals[alike[0]].sex
            self._alike[key] = Alike(len(alike), sex, None, tuple(alike), None)
        return list(keys)

    def _tallied(self, at: int, brood: Brood) -> list[str]:
        """Hatchlings without a record, those of one sex and look as one symbol."""
        groups: dict[tuple[str, bool | None], list[HatchRow]] = {}
        for row in brood.tallies:
            groups.setdefault((row.sex, self._seen(row)), []).append(row)
        keys = []
        for number, ((sex, shows), rows) in enumerate(groups.items()):
            many = sum(row.count - getattr(row, "own", 0) for row in rows)
            key = f"tally-{at}-{number}"
            self._alike[key] = Alike(many, sex, shows, (), rows[0].clutch)
            keys.append(key)
        return keys

    def _seen(self, row: HatchRow) -> bool | None:
        """Whether the gene's trait was seen on a row of hatchlings; None: not said."""
        if self._gene is None:
            return None
        trait = self._gene.trait.pk
        named = {one.trait_id: one.seen for one in row.sightings.all()}
        return named.get(trait, False if row.whole and not self._gene.trait.told_from else None)

    # ---- how it looks -----------------------------------------------------------------------

    def painted(self, name: str, genes: tuple[Gene, ...]) -> Picture:
        of = Pedigree(tuple(self._symbols), tuple(self._families))
        blank = {key: self._mark(key, 0.0, 0.0) for key in of.symbols}
        drawn = layout(of, _sizes(blank.values()))
        marks = {key: self._mark(key, *drawn.at[key]) for key in of.symbols}
        return Picture(
            name=name,
            gene=self._gene,
            genes=genes,
            marks=tuple(marks.values()),
            paths=tuple(_path(line) for line in drawn.lines),
            width=drawn.width,
            height=drawn.height,
            rows=self._listed(drawn, marks),
            more=self._kin.more,
        )

    def _mark(self, key: str, x: float, y: float) -> Mark:
        if key.isdecimal():
            return self._animal(self._kin.animals[int(key)], x, y)
        if key in self._alike:
            return self._several(self._alike[key], x, y)
        sex = Sex.FEMALE if key.startswith("dam") else Sex.MALE
        role = "dam" if sex == Sex.FEMALE else "sire"
        title = f"{role} not recorded"
        return Mark(x, y, sex.value, "", ("not", "recorded"), title, unrecorded=True)

    def _animal(self, one: Animal, x: float, y: float) -> Mark:
        told = self._told.get(one.pk)
        state = _state(one)
        return Mark(
            x=x,
            y=y,
            sex=one.sex,
            code=_cut(one.code),
            lines=("withdrawn",) if one.is_withdrawn else self._lines(told),
            title=", ".join(filter(None, (one.code, one.name, _SEXES[Sex(one.sex)], state)))
            + self._said(told),
            strip=told.strip if told and not one.is_withdrawn else None,
            codes=told.codes if told else "",
            fill=_fill(told),
            animal=one,
            dead=one.status == Status.DIED,
            focus=one.pk in self._focus,
            alone=self._focus == {one.pk},
            above=self._kin.hidden_above(one.pk),
        )

    def _lines(self, told: Told | None) -> tuple[str, ...]:
        if self._gene is None:
            return ()
        return told.short if told else ("–",)

    def _said(self, told: Told | None) -> str:
        if told is not None:
            return f". {told.words}"
        return f". {self._gene}: nothing speaks for it" if self._gene else ""

    def _several(self, alike: Alike, x: float, y: float) -> Mark:
        if alike.animals:
            one = self._kin.animals[alike.animals[0]]
            told = self._told.get(one.pk)
            lines, strip, fill = self._lines(told), told.strip if told else None, _fill(told)
            codes = ", ".join(self._kin.animals[pk].code for pk in alike.animals)
            title = f"{alike.number} alike, {_SEXES[Sex(alike.sex)]}: {codes}{self._said(told)}"
            dead, clutch = one.status == Status.DIED, one.clutch
            name, of_lines = "alike", told.codes if told else ""
        else:
            lines, fill = _looked(alike.shows)
            strip, dead, clutch, name, of_lines = None, False, alike.clutch, "young", ""
            young = how_many(alike.number, "hatchling")
            title = f"{young} without a record, {_SEXES[Sex(alike.sex)]}"
            title += f". {self._gene}: {lines[0]}" if self._gene and lines else ""
        return Mark(
            x=x, y=y, sex=alike.sex, code=name, lines=lines, title=title, strip=strip, fill=fill,
            codes=of_lines, number=alike.number, clutch=clutch, dead=dead,
        )  # fmt: skip

    # ---- the same as a list -----------------------------------------------------------------

    def _listed(self, drawn: Drawn, marks: dict[str, Mark]) -> tuple[tuple[Listed, ...], ...]:
        return tuple(
            tuple(
                Listed(marks[key], self._animals(key), self._of(key))
                for key in row
                if not marks[key].unrecorded
            )
            for row in drawn.rows
        )

    def _animals(self, key: str) -> tuple[Animal, ...]:
        ids = (int(key),) if key.isdecimal() else self._alike[key].animals
        return tuple(self._kin.animals[pk] for pk in ids)

    def _of(self, key: str) -> str:
        """Whose young: "dam F-01, sire M-02", or the candidates with their shares."""
        brood = self._born_to.get(key)
        if brood is None:
            hidden = key.isdecimal() and self._kin.hidden_above(int(key))
            return "parents not drawn" if hidden else "no parents recorded"
        parents = brood.parents
        dam = self._kin.animals[parents.dam].code if parents.dam else "not recorded"
        sires = []
        for one in parents.sires:
            who = "none, of the dam alone" if one.alone else "not recorded"
            who = self._kin.animals[one.sire].code if one.sire else who
            share = f" ({percent(float(one.share))} as entered)" if one.share is not None else ""
            sires.append(f"{who}{share}")
        several = "possible sires" if len(sires) > 1 else "sire"
        return f"dam {dam}, {several} {' or '.join(sires)}"


def _sizes(marks: Iterable[Mark]) -> Sizes:
    """Room for the longest code and the most words that stand under a symbol."""
    marks = list(marks)
    longest = max((len(text) for one in marks for text in (one.code, *one.lines)), default=0)
    lines = max((len(one.lines) + (one.codes != "") for one in marks), default=0)
    strip = STRIP if any(one.strip for one in marks) else 0.0
    width = max(60.0, _LETTER * longest)
    return Sizes(SYMBOL, round(width, 1), LINE * (1 + lines) + strip + 4.0)


def _path(line: Line) -> Path:
    d = "M" + "L".join(f"{x:g} {y:g}" for x, y in line.points)
    return Path(d, line.kind, line.related, line.doubtful)


def _cut(code: str) -> str:
    return code if len(code) <= _LONGEST_CODE else f"{code[: _LONGEST_CODE - 1]}…"


def _state(one: Animal) -> str:
    if one.is_withdrawn:
        return "withdrawn"
    return "" if one.status == Status.KEPT else str(one.get_status_display())


def _fill(told: Told | None) -> str:
    if told is None:
        return ""
    if told.shows:
        return "whole"
    return "half" if told.certain else ""


def _looked(shows: bool | None) -> tuple[tuple[str, ...], str]:
    if shows is None:
        return (), ""
    return (("visual",), "whole") if shows else (("not seen",), "")
