"""Looks of several genes: named, changed, withdrawn, restored, found, wanted."""

from datetime import date

import pytest
from django.test import Client

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import writing
from keeper.domain.projects import writes as projects
from keeper.domain.sheets.writes import draft
from tests.factories import LineFactory, TraitFactory
from tests.keeper.books import Book

pytestmark = pytest.mark.django_db


class Yard(Book):
    """Saltgrass HAR, and Blaze ULV with its double form; two het parents and their young K-1."""

    def __init__(self, by: m.Account) -> None:
        super().__init__(by)
        self.blaze = TraitFactory.create(species=self.species, name="Blaze", shown="single")
        self.ulv = LineFactory.create(trait=self.blaze, code="ULV")
        self.double = TraitFactory.create(
            species=self.species, name="Superblaze", shown="every", base=self.blaze
        )
        self.dam = self.founder("F-1", "female", "carries")
        self.sire = self.founder("M-1", "male", "visual")
        with writing(by=by, what="Blaze too") as entry:
            self.say(entry, self.sire, "visual", None, self.ulv)
        self.k1 = self.young("K-1", self.clutch("C-1", self.dam, self.sire), seen=None)

    def address(self) -> str:
        return f"/register/species/{self.species.pk}/looks/new/"

    def sent(self, *seen: object, name: str = "Neapsedge") -> dict[str, str]:
        rows = {f"row{n}-seen": str(one) for n, one in enumerate(seen)}
        return {"name": name, "parts": str(len(seen)), **rows}

    def named(self, client: Client) -> m.NamedLook:
        client.post(self.address(), self.sent(self.trait.pk, self.blaze.pk))
        found: m.NamedLook = m.NamedLook.objects.get()
        return found

    def see(self, animal: m.Animal, *traits: m.Trait) -> None:
        with writing(by=self.by, what="Looked") as entry:
            for trait in traits:
                entry.keep(
                    m.Observation(
                        animal=animal, trait=trait, seen="yes", on=date(2026, 6, 1), by=self.by
                    )
                )


@pytest.fixture
def yard(owner: m.Account) -> Yard:
    return Yard(owner)


def text_of(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def codes(client: Client, query: str) -> list[str]:
    found = client.get(f"/animals/?{query}").context["found"]
    return [row.animal.code for row in found.rows]


def test_a_look_is_named_by_what_is_seen(owner_client: Client, yard: Yard) -> None:
    line = f"{yard.trait.pk}-{yard.line.pk}"
    answer = owner_client.post(yard.address(), yard.sent(line, yard.blaze.pk, ""))
    look = m.NamedLook.objects.get()
    assert answer.headers["Location"].startswith(f"/register/looks/{look.pk}/")
    assert [(str(one.trait), [str(x) for x in one.lines.all()]) for one in look.parts.all()] == [
        ("Saltgrass", ["Saltgrass HAR"]),
        ("Blaze", []),
    ]
    page = text_of(owner_client, f"/register/looks/{look.pk}/")
    assert "of HAR alone" in page
    # Half of the young show the one, half of them the other.
    assert 'K-1</a> <span class="soft">25 %</span>' in page
    assert "Saltgrass HAR and Blaze" in text_of(
        owner_client, f"/register/species/{yard.species.pk}/"
    )


@pytest.mark.parametrize(
    ("seen", "name", "said"),
    [
        (["trait"], "Neapsedge", "made of two traits or more"),
        (["trait", "trait"], "Neapsedge", "made of two traits or more"),
        (["trait", "blaze"], "saltgrass", "A trait has this name already. Choose another."),
        (["blaze", "double"], "Neapsedge", "No animal can show Blaze and Superblaze at once"),
    ],
)
def test_a_look_that_is_none_is_refused(
    owner_client: Client, yard: Yard, seen: list[str], name: str, said: str
) -> None:
    chosen = [getattr(yard, one).pk for one in seen]
    page = owner_client.post(yard.address(), yard.sent(*chosen, name=name)).content.decode()
    assert said in page
    assert not m.NamedLook.objects.exists()


def test_what_hides_a_part_is_named(owner_client: Client, yard: Yard) -> None:
    yard.double.hides.add(yard.trait)
    sent = yard.sent(yard.trait.pk, yard.double.pk)
    page = owner_client.post(yard.address(), sent).content.decode()
    assert "Superblaze hides Saltgrass: no animal shows both." in page


def test_a_look_is_changed_withdrawn_and_restored(owner_client: Client, yard: Yard) -> None:
    look = yard.named(owner_client)
    sent = yard.sent(yard.trait.pk, yard.double.pk) | {"reason": "the other one"}
    owner_client.post(f"/register/looks/{look.pk}/edit/", sent)
    assert [str(one.trait) for one in look.parts.live()] == ["Saltgrass", "Superblaze"]
    assert inference.differences() == []
    assert "the other one" in text_of(owner_client, f"/register/looks/{look.pk}/")
    owner_client.post(f"/register/looks/{look.pk}/withdraw/", {"reason": "no longer said"})
    assert not m.Shows.objects.filter(look=look).exists()
    assert inference.differences() == []
    owner_client.post(f"/register/looks/{look.pk}/restore/")
    assert [str(one.trait) for one in look.parts.live()] == ["Saltgrass", "Superblaze"]
    assert inference.differences() == []


def test_a_trait_in_a_look_is_not_withdrawn_alone(owner_client: Client, yard: Yard) -> None:
    yard.named(owner_client)
    page = owner_client.post(
        f"/register/traits/{yard.blaze.pk}/withdraw/", {"reason": "wrong"}
    ).content.decode()
    assert "1 named look" in page
    yard.blaze.refresh_from_db()
    assert not yard.blaze.is_withdrawn


def test_an_undone_look_leaves_nothing(owner_client: Client, yard: Yard) -> None:
    look = yard.named(owner_client)
    assert m.Shows.objects.filter(look=look).exists()
    undo(entry=m.DaybookEntry.objects.order_by("-pk")[0], by=yard.by)
    assert not m.Shows.objects.filter(look=look).exists()
    assert not m.NamedLook.objects.live().exists()


def test_the_collection_finds_who_shows_a_look(owner_client: Client, yard: Yard) -> None:
    look = yard.named(owner_client)
    query = f"gene=l{look.pk}&has=shows"
    assert codes(owner_client, query) == ["M-1"]
    assert codes(owner_client, f"{query}&least=25") == ["K-1", "M-1"]
    assert codes(owner_client, f"{query}&least=26") == ["M-1"]
    assert codes(owner_client, f"{query}&least=0&sort=-carries") == ["M-1", "K-1"]
    yard.see(yard.k1, yard.trait, yard.blaze)
    assert codes(owner_client, query) == ["K-1", "M-1"]
    assert "Shows Neapsedge" in text_of(owner_client, f"/animals/?{query}")


def test_a_double_form_that_nobody_typed_is_found(owner_client: Client, yard: Yard) -> None:
    dam = yard.founder("F-2", "female", "double", line=yard.ulv)
    sire = yard.founder("M-2", "male", "double", line=yard.ulv)
    yard.young("K-2", yard.clutch("C-2", dam, sire), seen=None)
    query = f"gene={yard.double.pk}&has=shows"
    assert codes(owner_client, query) == ["F-2", "K-2", "M-2"]
    assert "(two copies of Blaze)" in text_of(owner_client, f"/animals/{dam.pk}/")


def test_a_disputed_look_is_no_claim(owner_client: Client, yard: Yard) -> None:
    look = yard.named(owner_client)
    m.Shows.objects.filter(animal=yard.sire, look=look).update(disputed=True)
    assert codes(owner_client, f"gene=l{look.pk}&has=shows") == []
    assert "disputed" in text_of(owner_client, f"/animals/{yard.sire.pk}/")
    assert draft(yard.sire, by=yard.by)["shows"] == []


def test_pages_files_and_sheets_carry_the_name(owner_client: Client, yard: Yard) -> None:
    yard.named(owner_client)
    page = text_of(owner_client, f"/animals/{yard.k1.pk}/")
    assert "Neapsedge" in page and '<span class="soft">25 %</span>' in page
    made = "(Saltgrass and Blaze)"
    assert draft(yard.sire, by=yard.by)["shows"] == [f"Neapsedge {made}"]
    assert draft(yard.k1, by=yard.by)["shows"] == [f"Neapsedge {made}, 25 %"]
    rows = owner_client.get("/animals/export.csv").getvalue().decode("utf-8-sig").splitlines()
    shown = {row.split(",")[0]: row for row in rows}
    assert '"Neapsedge, 25 %"' in shown["K-1"]
    assert ",Neapsedge," in shown["M-1"]


def test_a_pairing_names_the_look_of_its_young(owner_client: Client, yard: Yard) -> None:
    yard.named(owner_client)
    page = text_of(owner_client, f"/clutches/pairing/?dam={yard.dam.pk}&sire={yard.sire.pk}")
    assert '<b class="named-look">Neapsedge</b> Blaze + Saltgrass' in page


def test_a_look_can_be_the_goal_of_a_project(owner_client: Client, yard: Yard) -> None:
    look = yard.named(owner_client)
    sent = {
        "name": "Pale tide", "species": yard.species.pk, "wanted": "1", "sex": "unknown",
        "goal-TOTAL_FORMS": "1", "goal-INITIAL_FORMS": "0",
        "goal-0-need": "shows", "goal-0-gene": f"n{look.pk}",
    }  # fmt: skip
    owner_client.post("/projects/new/", sent)
    project = m.Project.objects.get()
    for animal in (yard.k1, yard.sire):
        member = m.Member(project=project, animal=animal, holdback=False, reason="bred from")
        member.since = date(2026, 6, 1)
        projects.join(member=member, by=yard.by)
    page = text_of(owner_client, f"/projects/{project.pk}/")
    assert "One animal that shows Neapsedge." in page
    assert "1 of 1 reached" in page
    # Half of the young show the recessive, half the one copy of Blaze.
    assert inference.pair_goal(project, yard.dam, yard.sire).each == pytest.approx(1 / 4)
    # One copy at least for every part: all have the one, half the other.
    assert inference.goal_chances(project, [yard.k1])[yard.k1.pk] == pytest.approx(1 / 2)
    # It is needed there.
    page = owner_client.post(
        f"/register/looks/{look.pk}/withdraw/", {"reason": "wrong"}
    ).content.decode()
    assert "1 goal" in page


def test_a_goal_that_nobody_can_show_is_refused(owner_client: Client, yard: Yard) -> None:
    sent = {
        "name": "Pale tide", "species": yard.species.pk, "wanted": "1", "sex": "unknown",
        "goal-TOTAL_FORMS": "2", "goal-INITIAL_FORMS": "0",
        "goal-0-need": "shows", "goal-0-gene": f"t{yard.trait.pk}",
        "goal-1-need": "shows", "goal-1-gene": f"t{yard.double.pk}",
    }  # fmt: skip
    yard.double.hides.add(yard.trait)
    page = owner_client.post("/projects/new/", sent).content.decode()
    assert "No animal can reach this goal: change a part of it. Superblaze hides Saltgrass" in page
    assert not m.Project.objects.exists()
    yard.double.hides.clear()
    owner_client.post("/projects/new/", sent)
    project = m.Project.objects.get()
    # What hides it later is said on its page.
    yard.double.hides.add(yard.trait)
    page = text_of(owner_client, f"/projects/{project.pk}/")
    assert "<strong>No animal can reach this goal.</strong> Superblaze hides Saltgrass" in page


def test_hatch_day_names_the_look(owner_client: Client, yard: Yard) -> None:
    yard.named(owner_client)
    clutch = yard.clutch("C-9", yard.dam, yard.sire)
    page = text_of(owner_client, f"/clutches/{clutch.pk}/hatch/")
    assert '<b class="named-look">Neapsedge</b> Blaze + Saltgrass' in page
