"""Addresses of the register."""

from django.urls import path

from keeper.pages.register import lines as register_lines
from keeper.pages.register import loci as register_loci
from keeper.pages.register import looks as register_looks
from keeper.pages.register import shares as register_shares
from keeper.pages.register import templates as register_templates
from keeper.pages.register import traits as register_traits
from keeper.pages.register import views as register
from keeper.pages.register import withdrawing as register_withdrawing

urlpatterns = [
    path("register/", register.start, name="register"),
    path("register/species/new/", register.edit_species, name="register-species-new"),
    path("register/species/<int:pk>/", register.species, name="register-species"),
    path("register/species/<int:pk>/edit/", register.edit_species, name="register-species-edit"),
    path(
        "register/species/<int:species>/traits/new/",
        register_templates.kinds,
        name="register-trait-new",
    ),
    path(
        "register/species/<int:species>/traits/new/by-hand/",
        register_traits.new_trait,
        name="register-trait-by-hand",
    ),
    path(
        "register/species/<int:species>/traits/new/complex/",
        register_templates.new_complex,
        name="register-complex-new",
    ),
    path(
        "register/species/<int:species>/traits/new/<slug:kind>/",
        register_templates.from_template,
        name="register-trait-template",
    ),
    path(
        "register/species/<int:species>/links/new/",
        register_loci.new_interval,
        name="register-link-new",
    ),
    path(
        "register/species/<int:species>/looks/new/",
        register_looks.new_look,
        name="register-look-new",
    ),
    path("register/looks/<int:pk>/", register_looks.look, name="register-look"),
    path("register/looks/<int:pk>/edit/", register_looks.edit_look, name="register-look-edit"),
    path("register/traits/<int:pk>/", register_traits.trait, name="register-trait"),
    path("register/traits/<int:pk>/parts/", register_shares.shares, name="register-trait-parts"),
    path("register/traits/<int:pk>/edit/", register_traits.edit_trait, name="register-trait-edit"),
    path(
        "register/traits/<int:trait>/lines/new/", register_lines.new_line, name="register-line-new"
    ),
    path(
        "register/traits/<int:trait>/combinations/new/",
        register_traits.new_showing,
        name="register-combination-new",
    ),
    path(
        "register/combinations/<int:pk>/edit/",
        register_traits.edit_showing,
        name="register-combination-edit",
    ),
    path("register/lines/<int:pk>/", register_lines.line, name="register-line"),
    path("register/lines/<int:pk>/edit/", register_lines.edit_line, name="register-line-edit"),
    path("register/lines/<int:pk>/place/", register_lines.place_line, name="register-line-place"),
    path("register/pairs/<int:pk>/", register_lines.decide_pair, name="register-pair"),
    path("register/pairs/<int:pk>/weigh/", register_lines.weigh_pair, name="register-pair-weigh"),
    path("register/loci/<int:pk>/", register_loci.locus, name="register-locus"),
    path("register/loci/<int:pk>/edit/", register_loci.edit_locus, name="register-locus-edit"),
    path(
        "register/loci/<int:locus>/survivals/new/",
        register_loci.new_survival,
        name="register-survival-new",
    ),
    path(
        "register/survivals/<int:pk>/edit/",
        register_loci.edit_survival,
        name="register-survival-edit",
    ),
    path("register/links/<int:pk>/edit/", register_loci.edit_interval, name="register-link-edit"),
    path(
        "register/<slug:kind>/<int:pk>/withdraw/",
        register_withdrawing.withdraw_record,
        name="register-withdraw",
    ),
    path(
        "register/<slug:kind>/<int:pk>/restore/",
        register_withdrawing.restore_record,
        name="register-restore",
    ),
]
