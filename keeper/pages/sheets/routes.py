"""Addresses of sale sheets."""

from django.urls import path, re_path

from keeper.pages.sheets import keys, notices, public, several
from keeper.pages.sheets import views as sheets

urlpatterns = [
    path("animals/<int:pk>/sheet/", sheets.make, name="animals-sheet"),
    re_path(
        r"^animals/(?P<pk>\d+)/sheet/draft-(?P<size>a4|a5|letter)\.pdf$",
        sheets.draft_pdf,
        name="animals-sheet-draft",
    ),
    path("animals/<int:pk>/listing/", sheets.listing, name="animals-listing"),
    path(
        "animals/<int:pk>/listing/picture.png",
        sheets.listing_picture,
        name="animals-listing-picture",
    ),
    path("sheets/keys/", keys.keys, name="sheets-keys"),
    path("sheets/keys/change/", keys.change, name="sheets-keys-change"),
    path("sheets/keys/lost/", keys.lost, name="sheets-keys-lost"),
    path("sheets/keys/take-up/", keys.take_up, name="sheets-keys-take-up"),
    path("sheets/new/", several.new, name="sheets-new"),
    path("sheets/together/<int:pk>/", several.several, name="sheets-several"),
    re_path(
        r"^sheets/together/(?P<pk>\d+)/(?P<size>a4|a5|letter)\.zip$",
        several.archive,
        name="sheets-several-file",
    ),
    path("sheets/<int:pk>/", sheets.one, name="sheets-one"),
    path("sheets/notices/", notices.notices, name="sheets-notices"),
    path("sheets/<int:pk>/tell/", notices.tell, name="sheets-tell"),
    path("sheets/<int:pk>/withdraw/", sheets.withdraw, name="sheets-withdraw"),
    re_path(r"^sheets/(?P<pk>\d+)/(?P<size>a4|a5|letter)\.pdf$", sheets.pdf, name="sheets-pdf"),
    path("papers/<str:code>/", public.paper, name="papers-one"),
    path("papers/<str:code>/sheet.json", public.paper_proof, name="papers-proof"),
]
