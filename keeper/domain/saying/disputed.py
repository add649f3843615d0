"""What a dispute says of its records."""

# What the stored text of a record leaves out: it is the parents that are in question.
_PARENTS = {"animal": "the parents of {}", "clutch": "the parents of clutch {}"}


def told(record: dict[str, str]) -> str:
    """Return what a dispute says of a record of its own, as it was when it began."""
    return _PARENTS.get(record["model"], "{}").format(record["text"])
