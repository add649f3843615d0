"""Two lines of one look: compared, told of, crossed, decided, and opened again."""

from playwright.sync_api import Page, expect

from keeper.models import Account, OpenPair, PairWord
from tests.factories import ContactFactory
from tests.journeys.conftest import Axe, OpenAs, fits
from tests.keeper.lines.rows import InDoubt


def send(page: Page, button: str) -> None:
    with page.expect_navigation():
        page.get_by_role("button", name=button, exact=True).click()


def test_lines_are_compared_a_word_is_noted_and_a_cross_decides(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    book = InDoubt(owner)
    dun = book.another("DUN")
    dam, sire = book.visual("F-1", "female", book.har), book.visual("M-1", "male", book.que)
    hets = [
        book.founder("F-2", "female", "carries", line=book.har),
        book.founder("M-2", "male", "carries", line=book.que),
    ]
    book.clutch("24-01", *hets, normal=6)
    ContactFactory.create(name="Ansel of Pelnaw")

    open_as(owner, "/register/")
    page.get_by_role("link", name="Lines of Saltgrass compared").click()
    expect(page.get_by_text("1 pair open.")).to_be_visible()
    expect(page.get_by_role("link", name=f"HAR and {dun.code}: two genes")).to_be_visible()
    axe()
    assert fits(page)
    page.get_by_role("link", name="HAR and QUE: open").first.click()
    # 0.75^6 to 1.
    expect(page.get_by_text("Open: one gene 15 % likely")).to_be_visible()
    expect(page.get_by_role("row", name="24-01").get_by_text("for two genes")).to_be_visible()
    best = page.get_by_role("row").filter(has_text="F-1").filter(has_text="M-1")
    expect(best.get_by_text("Any visual makes them one gene.")).to_be_visible()
    axe()
    assert fits(page)

    page.get_by_role("link", name="Add what a source says").click()
    axe()
    page.get_by_label("two genes (not compatible)").check()
    page.get_by_label("Who says so").select_option("Ansel of Pelnaw")
    page.get_by_label("How far you take this word").fill("half")
    send(page, "Save")
    expect(page.get_by_text("“half” is no chance.").last).to_be_visible()
    axe()
    page.get_by_label("How far you take this word").fill("50 %")
    send(page, "Save")
    # It moves what the six and their parents may carry.
    if page.get_by_role("button", name="Yes, save").count():
        axe()
        send(page, "Yes, save")
    assert PairWord.objects.get().source is not None
    expect(page.get_by_text("Open: one gene 5 % likely")).to_be_visible()

    page.get_by_role("link", name=f"Look up {dam} × {sire}").click()
    expect(page.get_by_role("heading", name=f"{dam} × {sire}")).to_be_visible()
    book.clutch("26-01", dam, sire, visual=4)
    page.goto(f"/register/compared/{book.har.pk}/{book.que.pk}/")
    expect(page.get_by_text("Open: one gene 100 % likely")).to_be_visible()
    expect(page.get_by_text("It stays open until you decide.")).to_be_visible()
    axe()
    page.get_by_role("link", name="Decide", exact=True).click()
    page.get_by_label("one gene: they share a locus").check()
    page.get_by_label("What decided it").fill("four visuals of 26-01")
    send(page, "Decide")
    if page.get_by_role("button", name="Yes, decide").count():
        send(page, "Yes, decide")
    expect(page.get_by_text("One gene: they share the locus")).to_be_visible()
    expect(page.get_by_text("“four visuals of 26-01”")).to_be_visible()
    assert not OpenPair.objects.live().exists()
    axe()
    assert fits(page)

    page.get_by_role("link", name="Open it again").click()
    page.get_by_label("Why it is opened again").fill("a doubt about F-1")
    axe()
    send(page, "Open it again")
    if page.get_by_role("button", name="Yes, open it again").count():
        send(page, "Yes, open it again")
    expect(page.get_by_text("Open: one gene 100 % likely")).to_be_visible()
    send(page, "Undo")
    expect(page.get_by_text("One gene: they share the locus")).to_be_visible()
