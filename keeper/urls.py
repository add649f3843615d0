"""Every address of the book. A name's first word is the area of the navigation it marks."""

from django.urls import URLPattern

from keeper.pages.accounts import routes as accounts
from keeper.pages.animals import routes as animals
from keeper.pages.archives import routes as archives
from keeper.pages.backups import routes as backups
from keeper.pages.breeding import routes as breeding
from keeper.pages.clutches import routes as clutches
from keeper.pages.collection import routes as collection
from keeper.pages.daybook import routes as daybook
from keeper.pages.disputes import routes as disputes
from keeper.pages.diversity import routes as diversity
from keeper.pages.figures import routes as figures
from keeper.pages.frame import routes as frame
from keeper.pages.husbandry import routes as husbandry
from keeper.pages.imports import routes as imports
from keeper.pages.labels import routes as labels
from keeper.pages.laboratories import routes as laboratories
from keeper.pages.lines import routes as lines
from keeper.pages.mates import routes as mates
from keeper.pages.offline import routes as offline
from keeper.pages.pairing import routes as pairing
from keeper.pages.pedigree import routes as pedigree
from keeper.pages.places import routes as places
from keeper.pages.projects import routes as projects
from keeper.pages.prospects import routes as prospects
from keeper.pages.proving import routes as proving
from keeper.pages.register import routes as register
from keeper.pages.running import routes as running
from keeper.pages.search import routes as search
from keeper.pages.season import routes as season
from keeper.pages.sheets import routes as sheets
from keeper.pages.sources import routes as sources
from keeper.pages.stock import routes as stock
from keeper.pages.today import routes as today
from keeper.pages.travel import routes as travel

urlpatterns: list[URLPattern] = [
    *today.urlpatterns,
    *accounts.urlpatterns,
    *archives.urlpatterns,
    *backups.urlpatterns,
    *frame.urlpatterns,
    *running.urlpatterns,
    *offline.urlpatterns,
    *collection.urlpatterns,
    *diversity.urlpatterns,
    *imports.urlpatterns,
    # Before those of animals, one of which takes any word in their place.
    *husbandry.urlpatterns,
    *stock.urlpatterns,
    *places.urlpatterns,
    *labels.urlpatterns,
    *travel.urlpatterns,
    *animals.urlpatterns,
    *search.urlpatterns,
    *sources.urlpatterns,
    *daybook.urlpatterns,
    *clutches.urlpatterns,
    *breeding.urlpatterns,
    *figures.urlpatterns,
    *pairing.urlpatterns,
    *mates.urlpatterns,
    *projects.urlpatterns,
    *season.urlpatterns,
    *pedigree.urlpatterns,
    *sheets.urlpatterns,
    *lines.urlpatterns,
    *laboratories.urlpatterns,
    *disputes.urlpatterns,
    *prospects.urlpatterns,
    *proving.urlpatterns,
    *register.urlpatterns,
]

handler500 = "keeper.pages.frame.errors.broken"
