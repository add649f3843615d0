"""Which pages a device may keep that was asked to, and which forms wait on it for a connection."""

from collections.abc import Sequence

# The name of an address, and under which of these kinds a keeper is told that it is kept.
TODAY, ROUNDS = "Today", "Rounds"
ANIMALS, CLUTCHES, FORMS = "Animals you opened", "Clutches you opened", "Forms for what is new"
KINDS: Sequence[tuple[str, str, tuple[str, ...]]] = (
    (TODAY, "what needs you, and what is due", ("home", "home-due", "home-self-waiting")),
    (
        ROUNDS,
        "the list of places, and the round of each place",
        ("animals-round", "animals-round-each"),
    ),
    (
        ANIMALS,
        "their page, by a label too, their husbandry and season, its forms, the pictures on them",
        (
            *("animals-one", "animals-husbandry", "animals-husbandry-new", "animals-way"),
            *("animals-photo-new", "animals-observe", "animals-picture"),
            *("animals-at", "animals-at-tub"),
        ),
    ),
    (
        CLUTCHES,
        "their page, the form of the hatch, candling and the other steps",
        ("clutches-one", "clutches-hatch", "clutches-way", "clutches-way-young"),
    ),
    (FORMS, "a new clutch, a new chore", ("clutches-new", "home-due-new")),
)
KIND_OF = {name: kind for kind, _, names in KINDS for name in names}

# How an address begins, or ends, whose forms do not wait: what they do needs the book at once, or
# they hold a password. What a keeper types there stays in the tab.
NOT_WAITING = (
    *("/log-in/", "/log-out/", "/set-up/", "/begin/", "/invitation/", "/theme/", "/me/"),
    *("/accounts/", "/backups/", "/archives/", "/imports/", "/sheets/keys/", "/erase/"),
    *("/animals/signed-papers/", "/report/", "/reports/new/"),
)
