"""A book in which somebody is named wherever a person can be, by words that are nowhere else."""

from datetime import date
from pathlib import Path
from urllib.parse import quote_plus

from django.core.files.uploadedfile import SimpleUploadedFile

from keeper import models as m
from keeper.domain.book.writing import writing
from keeper.domain.imports import writes as imports
from keeper.domain.prospects.writes import keep_prospect
from keeper.domain.register.writes import keep_contact
from keeper.domain.sheets.writes import issue
from keeper.domain.sources.writes import keep_paper
from tests.factories import LineFactory
from tests.keeper.books import Book
from tests.keeper.imports.tables import begun, picked, table, tried

DAY = date(2026, 6, 1)
NAME, EARLIER = "Qwelfarn Zitterböck", "Vantrude Okzillo"
MAIL, NUMBER = "okzillo@example.org", "+49 151 2345678"
# In texts about the person that need not name it.
PRIVATE = [f"canary-{n}" for n in range(10)]
WORDS = ["qwelfarn", "zitterb", "vantrude", "okzillo", "2345678", *PRIVATE]


class Named:
    """The book, and the contact whom it is all about."""

    def __init__(self, by: m.Account) -> None:
        self.by, self.book = by, Book(by)
        self.contact = m.Contact(name=EARLIER, reach=f"{MAIL}, {NUMBER}", notes=PRIVATE[0])
        keep_contact(contact=self.contact, by=by)
        self.contact.name = NAME
        keep_contact(contact=self.contact, by=by, reason=f"{EARLIER} has married")
        self._animals()
        self._words()
        self._table()

    def _animals(self) -> None:
        book = self.book
        self.dam = book.founder("F-1", "female", "carries")
        self.sire = book.founder("M-1", "male", "clear")
        with writing(by=self.by, what=f"Bought from {NAME}", reason=f"called {NUMBER}") as entry:
            self.dam.source = self.sire.source = self.contact
            self.dam.notes = f"{NAME.upper()} says that she eats; write to {MAIL}."
            entry.keep(self.dam)
            entry.keep(self.sire)
            for word in m.Statement.objects.all():
                word.source = self.contact
                entry.keep(word)
        # What cannot be: the sire is said to be without it.
        young = book.clutch("C-1", self.dam, self.sire, visual=1, normal=2)
        self.young = book.young("K-1", young, seen=True)
        self.sheet, _ = issue(animal=self.young, by=self.by, buyer=self.contact)
        issue(animal=self.dam, by=self.by)
        with writing(by=self.by, what="Told") as entry:
            entry.keep(
                m.Told(
                    sheet=self.sheet, how="call", message=PRIVATE[8], note=PRIVATE[9],
                    upto=entry.entry, said=[["Saltgrass", "possible het", "proven"]],
                )
            )  # fmt: skip

    def _words(self) -> None:
        scan = SimpleUploadedFile("scan.pdf", b"%PDF-1.4 " + PRIVATE[1].encode())
        paper = m.Paper(animal=self.dam, source=self.contact, dated=DAY, says=PRIVATE[2])
        keep_paper(paper=paper, by=self.by, scan=scan)
        other = LineFactory.create(trait=self.book.trait, code="PEL")
        pair = sorted((self.book.line, other), key=lambda one: one.pk)
        with writing(by=self.by, what="Lines") as entry:
            entry.keep(m.OpenPair(one=pair[0], other=pair[1], prior="1/2"))
            entry.keep(
                m.PairWord(
                    one=pair[0], other=pair[1], one_gene=True, source=self.contact, weight="1/4",
                    on=DAY, says=PRIVATE[3],
                )
            )  # fmt: skip
        prospect = m.Prospect(
            species=self.book.species, name=f"female of {NAME}", source=self.contact,
            where=PRIVATE[4], says=PRIVATE[5], notes=PRIVATE[6], asked=PRIVATE[7][:40],
        )  # fmt: skip
        keep_prospect(prospect=prospect, words=[], by=self.by)
        for name in (NAME, EARLIER):  # they would be called alike afterwards
            query = f"q={quote_plus(name)}"
            m.SavedView.objects.create(account=self.by, name=f"of {name}", query=query)

    def _table(self) -> None:
        rows = table("Code,Sex,From", f"N-1,f,{NAME}", "N-2,m,Bryony")
        one = picked(begun(self.by, rows, f"list of {EARLIER}.csv"), species=self.book.species.pk)
        m.Import.objects.update(seen=tried(one).digest)
        imports.bring_in(one=one, by=self.by)


def found_in(data: bytes) -> list[str]:
    """Which of the words stand in some bytes, in capitals or not."""
    low = data.lower()
    return [word for word in WORDS if word.encode() in low or word.encode("utf-16-le") in low]


def found_below(folder: Path) -> dict[str, list[str]]:
    """File → words that stand in it, for those in which any does."""
    files = (path for path in folder.rglob("*") if path.is_file())
    found = {str(path.relative_to(folder)): found_in(path.read_bytes()) for path in files}
    return {name: words for name, words in found.items() if words}
