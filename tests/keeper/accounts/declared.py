"""Who may open each address: written down by hand, so that a new address is missed by name."""

# Strangers may open these: the ways in, and whether the book runs.
WAYS_IN = {"log-in", "log-in-code", "set-up", "invitation", "alive", "ready", "metrics"} | {
    *("papers-one", "papers-proof", "papers-stock"),
    # Who shows a passkey is looked at there.
    *("log-in-passkey", "log-in-passkey-ask"),
    # Of one account alone: whoever has its secret address.
    "calendar",
    # What a device fetches without a cookie: the same for everybody.
    *("offline-none", "offline-manifest", "offline-worker"),
}
# One's own: everybody may open and send these, a viewer too.
OWN = {
    *("log-out", "theme", "home-self", "home-self-password", "home-self-end", "home-self-second"),
    *("home-self-calendar", "home-self-reach", "home-self-offline", "home-self-waiting"),
    *("home-self-offline-now", "home-self-offline-ahead"),
    *("home-self-passkeys", "home-self-passkeys-add", "home-self-passkeys-ask"),
    "home-self-passkeys-remove",
    *("animals-views-new", "animals-views-rename", "animals-views-remove"),
}
# The owner's alone.
OWNERS = {
    *("begin", "home-accounts", "home-accounts-password", "home-accounts-switch"),
    *("home-accounts-invite", "home-accounts-invitation-take-back", "home-accounts-one"),
    *("home-accounts-end", "home-accounts-second-off", "home-accounts-passkeys-remove"),
    *("home-archives", "home-archives-file"),
    *("home-archives-open", "home-archives-inside", "home-backups", "home-backups-make"),
    *("home-backups-settings", "home-backups-passphrase", "home-backups-receive"),
    *("home-backups-one", "home-backups-file", "animals-imports", "animals-imports-one"),
    *("animals-imports-columns", "animals-imports-questions", "animals-imports-row"),
    *("animals-imports-leave-out", "animals-imports-outcome", "animals-imports-write"),
    *("animals-imports-throw-away", "register-contact-erase", "register-contact-data"),
    *("sheets-keys", "sheets-keys-change", "sheets-keys-lost"),
    *("sheets-keys-take-up", "animals-stock-public", "animals-signed-papers"),
    *("animals-signed-paper", "animals-signed-paper-file"),
    *("register-lines-report", "register-lines-report-new"),
}
# About sources, buyers and sellers: for whoever may see those; the second also writes.
PEOPLE_READ = {
    *("register-contacts", "register-contact", "sheets-one", "sheets-pdf", "animals-scan"),
    *("sheets-several", "sheets-several-file"),
    *("animals-sale", "animals-sale-receipt"),
    *("animals-sheet-draft", "animals-prospects", "animals-prospects-one", "sheets-notices"),
}
PEOPLE_WRITTEN = {
    *("register-contact-new", "register-contact-edit", "sheets-withdraw", "animals-sheet"),
    "sheets-new",
    "sheets-tell",
    *("animals-sale-new", "animals-sale-edit", "animals-sale-withdraw", "animals-sale-step"),
    *("animals-document-new", "animals-document", "animals-prospects-new"),
    *("animals-prospects-edit", "animals-prospects-message", "animals-prospects-let-go"),
    *("animals-prospects-take-up", "animals-prospects-buy", "register-lines-word-new"),
    *("register-lines-word", "register-lines-word-withdraw", "register-lines-word-restore"),
}
# For everybody to read.
READ = {
    *("animals-husbandry", "animals-places", "animals-places-one", "animals-round-paper"),
    *("home-due", "animals-stock"),
    *("clutches-figures", "clutches-figures-looks", "clutches-figures-record"),
    *("animals-labels", "animals-labels-list", "animals-labels-run", "animals-labels-pdf"),
    *("animals-at", "animals-at-tub", "animals-photos"),
    *("home", "animals", "animals-paper", "animals-export", "animals-views", "animals-diversity"),
    *("animals-diversity-export", "animals-one", "animals-history", "animals-case"),
    *("animals-grounds", "animals-telling", "animals-picture", "search", "daybook"),
    *("daybook-withdrawn", "animals-listing", "animals-listing-picture"),
    *("daybook-entry", "clutches", "clutches-file", "clutches-pick", "clutches-one"),
    *("clutches-pairing", "animals-mates", "animals-mates-asked", "projects", "projects-advice"),
    *(
        "projects-one",
        "projects-outlook",
        "projects-together",
        "animals-pedigree",
        "clutches-pedigree",
    ),
    *("projects-pedigree", "register-line-pedigree", "register-lines", "register-lines-pair"),
    *("register-laboratories", "register-laboratory", "home-disputes", "home-disputes-one"),
    *("home-disputes-explanations", "home-disputes-rates", "projects-proving"),
    *("projects-proving-one", "register", "register-species", "register-look", "register-trait"),
    *("register-line", "register-locus"),
    # Worth reading, and whoever may write sends something from there.
    *("projects-ways", "projects-season", "projects-season-pairing"),
}
# For whoever may write.
WRITTEN = {
    *("animals-husbandry-new", "animals-husbandry-record", "animals-husbandry-record-withdraw"),
    *("animals-stock-offer", "animals-stock-end"),
    *("animals-labels-new", "animals-labels-sheet-new", "animals-labels-sheet"),
    "animals-labels-sheet-withdraw",
    *("home-due-new", "home-due-chore", "home-due-chore-withdraw"),
    *("animals-round", "animals-round-each", "animals-places-new", "animals-places-edit"),
    *("animals-places-withdraw", "animals-places-written"),
    *("animals-together", "animals-new", "animals-edit", "animals-withdraw", "animals-restore"),
    *("animals-observe", "animals-photo-new", "animals-look", "animals-observation"),
    *("animals-photo", "animals-record-withdraw", "animals-record-restore"),
    *("animals-statement-new", "animals-statement", "daybook-undo", "clutches-new"),
    *("daybook-withdrawn-bring-back", "animals-way", "animals-way-noted", "clutches-way"),
    *("clutches-way-young", "clutches-way-box-new", "clutches-way-box", "clutches-way-noted"),
    *("clutches-edit", "clutches-withdraw", "clutches-hatch", "clutches-record", "projects-new"),
    *("projects-hold", "projects-hold-young", "projects-edit", "projects-plan-give-up"),
    *("projects-close", "projects-reopen", "projects-review", "projects-release"),
    *("projects-season-new", "register-lines-open", "register-laboratory-new"),
    *("register-laboratory-edit", "register-laboratory-withdraw", "register-laboratory-restore"),
    *("animals-lab-test-new", "animals-lab-test", "home-disputes-explanation"),
    *("home-disputes-rate", "home-disputes-rate-reset", "home-disputes-surprise"),
    *("register-species-new", "register-species-edit", "register-trait-new"),
    *("register-trait-by-hand", "register-complex-new", "register-trait-template"),
    *("register-link-new", "register-look-new", "register-look-edit", "register-trait-parts"),
    *("register-trait-edit", "register-line-new", "register-combination-new"),
    *("register-combination-edit", "register-line-edit", "register-line-place", "register-pair"),
    *("register-pair-weigh", "register-locus-edit", "register-survival-new"),
    *("register-survival-edit", "register-link-edit", "register-withdraw", "register-restore"),
}
ALL = (WAYS_IN, OWN, OWNERS, PEOPLE_READ, PEOPLE_WRITTEN, READ, WRITTEN)
