"""What the collection's pages print."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from urllib.parse import parse_qsl

from django.core.paginator import Page, Paginator
from django.http import QueryDict
from django.urls import reverse

from keeper.domain.collection import queries as reads
from keeper.domain.collection.queries import Counts, Filters
from keeper.domain.saying.shows import ShownLook, in_order
from keeper.domain.saying.wording import Carried, carried
from keeper.models import Account, Animal, Line, SavedView, Standing, Trait
from keeper.pages.collection.forms import FiltersForm, plain_query

PAGE, PRINTED = 34, 200
# Genes that a row names before it says how many more there are.
SHORT = 3

COLUMNS = (
    *(("code", "Code"), ("sex", "Sex"), ("year", "Year"), ("carries", "Carries")),
    *(("parents", "Parents"), ("place", "Place"), ("status", "Status")),
)
# How an order the other way round is called, where it is not by letters.
_TURNED = {"year": "newest first", "carries": "most first"}


@dataclass(frozen=True)
class Head:
    """The head of a column: where its link leads, and how the list is sorted by it now."""

    key: str
    label: str
    query: str
    sorted: str


@dataclass(frozen=True)
class Gene:
    """One gene of a row, named with what is known of its line; `mixed`: of which lines mix."""

    standing: Standing
    trait: Trait
    lines: tuple[Line, ...]
    line_unknown: bool
    mixed: Standing | None = None


@dataclass(frozen=True)
class Row:
    """One animal of the list; `shows`: certain looks by combinations, and those asked for."""

    animal: Animal
    shows: tuple[ShownLook, ...]
    genes: tuple[Gene, ...]
    more: int
    dam: Animal | None
    sires: tuple[Animal | None, ...]


@dataclass(frozen=True)
class Found:
    """The list: rows of one page, how many there are, and what the addresses say."""

    rows: list[Row]
    page: Page[Animal]
    counts: Counts
    heads: list[Head]
    sort: str
    query: str
    words: str
    problems: list[str]
    disputed_left_out: int
    disputed_query: str
    view: SavedView | None

    @property
    def address(self) -> str:
        """The address of what is shown, for the browser's bar."""
        number = self.page.number
        query = "&".join(filter(None, [self.query, f"page={number}" if number > 1 else ""]))
        return reverse("animals") + (f"?{query}" if query else "")

    @property
    def orders(self) -> list[tuple[str, str]]:
        """The orders to choose from on a phone, where no column has a head."""
        return [
            (minus + key, f"{label}, {how}" if how else label)
            for key, label in COLUMNS
            for minus, how in (("", ""), ("-", _TURNED.get(key, "Z to A")))
        ]

    @property
    def parameters(self) -> list[tuple[str, str]]:
        """The filters by name, for the form that keeps them."""
        return parse_qsl(self.query)

    @property
    def has_filters(self) -> bool:
        """Whether anything but the order is asked for."""
        return any(not part.startswith("sort=") for part in self.query.split("&") if part)


def found(
    form: FiltersForm, data: QueryDict, views: Iterable[SavedView] = (), *, on_paper: bool = False
) -> Found:
    """Answer what an address asks of the collection."""
    filters = form.filters()
    animals = reads.collection(filters)
    counts = reads.count_sexes(animals)
    paginator = Paginator(reads.with_rows(animals), PRINTED if on_paper else PAGE)
    # Counted already, by sex.
    paginator.__dict__["count"] = counts.total
    page = paginator.get_page(data.get("page"))
    query = plain_query(data)
    return Found(
        rows=[row(animal, filters, short=not on_paper) for animal in page.object_list],
        page=page,
        counts=counts,
        heads=[_head(key, label, filters, data) for key, label in COLUMNS],
        sort=filters.sort,
        query=query,
        words=in_words(filters, form),
        problems=form.problems(),
        disputed_left_out=reads.left_out_as_disputed(filters),
        disputed_query=plain_query({**data.dict(), "disputed": "on"}),
        view=next((view for view in views if view.query == query), None),
    )


def row(animal: Animal, filters: Filters, *, short: bool = True) -> Row:
    """Return an animal with what it carries: what was asked for first, then the surest."""
    standings = list(animal.standings.all())
    asked = {(one.trait, one.line) for one in filters.carrying if one.trait is not None}
    by_line = [
        _of_line(one) for one in standings if (one.trait_id, one.line_id) in asked and one.line
    ]
    told = {gene.trait.pk for gene in by_line}
    mixed = {one.trait_id: one for one in standings if one.line_id is None and one.mixed > 0}
    over_all = [_over_all(one) for one in carried(standings) if one.trait.pk not in told]
    wanted = {trait for trait, _ in asked}
    # A stable sort: asked for, then mixed, which no row may hide; the others stay surest first.
    over_all.sort(key=lambda gene: (gene.trait.pk not in wanted, gene.trait.pk not in mixed))
    genes = [replace(one, mixed=mixed.get(one.trait.pk)) for one in (*by_line, *over_all)]
    # "and 1 more" would take the room of the one.
    shown = SHORT if short and len(genes) > SHORT + 1 else len(genes)
    dam, sires = reads.parents_of(animal)
    return Row(
        animal, _shows(animal, filters), tuple(genes[:shown]), len(genes[shown:]), dam, sires
    )


def _shows(animal: Animal, filters: Filters) -> tuple[ShownLook, ...]:
    asked = {(one.trait, one.look) for one in filters.carrying if one.how == "shows"}
    rows = [
        row
        for row in animal.shows.all()
        if (row.chance == 1 and not row.disputed) or (row.trait_id, row.look_id) in asked
    ]
    return tuple(in_order(rows))


def in_words(filters: Filters, form: FiltersForm) -> str:
    """Say what is asked for: "females · here · carries Saltgrass HAR with at least 50 %"."""
    label = form.label_of
    parts = [
        f"“{filters.text}”" if filters.text else "",
        label("species"),
        label("sex").partition(" ")[2] if filters.sex else "",
        label("status") if filters.status != "here" else "here",
        f"in {filters.place}…" if filters.place else "",
        f"hatched {_years(filters)}" if filters.years else "",
        *form.carrying_in_words(),
        form.label_of("mixed"),
        "disputed only" if filters.disputed else "",
    ]
    return " · ".join(filter(None, parts))


def saved_views(account: Account) -> list[SavedView]:
    """Return an account's own views by name."""
    return list(SavedView.objects.filter(account=account))


def _years(filters: Filters) -> str:
    first, last = filters.years or (0, 0)
    return str(first) if first == last else f"{first} to {last}"


def _of_line(standing: Standing) -> Gene:
    lines = (standing.line,) if standing.line else ()
    return Gene(standing, standing.trait, lines, line_unknown=False)


def _over_all(one: Carried) -> Gene:
    return Gene(
        # Of one line alone the figure is the same, and the word may be the better one.
        one.over_all,
        one.trait,
        one.lines,
        line_unknown=one.has_lines and not one.lines,
    )


def _head(key: str, label: str, filters: Filters, data: QueryDict) -> Head:
    current, downwards = filters.sort.removeprefix("-"), filters.sort.startswith("-")
    # Of chances and years one wants the high ones first.
    first = f"-{key}" if key in {"carries", "year"} else key
    turned = (key if downwards else f"-{key}") if current == key else first
    direction = ("descending" if downwards else "ascending") if current == key else ""
    return Head(key, label, plain_query({**data.dict(), "sort": turned}), direction)
