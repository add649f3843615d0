"""What is asked once for a whole table: names, lines, parents, species and likely doubles."""

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from django import forms

from keeper.domain.imports.queries import is_code, species_there
from keeper.domain.imports.rows import Question
from keeper.models import Shown, Trait

# So many questions stand on a page; the others follow once these are answered.
SHOWN = 40
_NEW = {
    Shown.RECESSIVE: "A new trait, recessive",
    Shown.DOMINANT: "A new trait, dominant",
    Shown.SINGLE: "A new trait, incomplete dominant",
}
_CHOOSE = ("", "Choose")
_LINE = re.compile(r"[A-Z]{2,3}")


class QuestionForm(forms.Form):
    """One question; empty: it is answered another time."""

    answer = forms.ChoiceField(label="It is", required=False)
    name = forms.CharField(label="Its name", required=False, max_length=60)
    code = forms.CharField(label="Code", required=False, max_length=24)
    line = forms.CharField(label="Name of the line", required=False, max_length=60)
    key = forms.CharField(widget=forms.HiddenInput, max_length=200)

    def __init__(
        self, *args: Any, question: Question, traits: Sequence[str], codes: Mapping[str, list[str]],
        **kwargs: Any,
    ) -> None:  # fmt: skip
        super().__init__(*args, **kwargs)
        self.question = question
        self.fields["key"].initial = question.key
        answer: Any = self.fields["answer"]
        answer.choices = [_CHOOSE, *_choices(question, traits, codes)]
        for name in {"name", "code", "line"} - set(_ASKED[question.kind]):
            del self.fields[name]
        if question.kind == "trait":
            self.fields["name"].initial = question.text
            self.fields["code"].label = "Code of its first line"
            self.fields["line"].label = "Name of its first line"
            self.fields["line"].help_text = "Leave both empty as long as you know of one line only."
        elif question.kind == "line":
            self.fields["code"].initial = question.text.upper()[:3]
        elif question.kind == "parent":
            self.fields["code"].label = "Or its code"

    @property
    def more(self) -> list[forms.BoundField]:
        """The fields that only some answers need."""
        return [self[name] for name in ("name", "code", "line") if name in self.fields]

    def clean(self) -> dict[str, Any]:
        """Ask for what an answer needs."""
        cleaned = super().clean() or {}
        said = cleaned.get("answer", "")
        if said.startswith("new"):
            self._clean_new(cleaned)
        code = cleaned.get("code", "")
        if self.question.kind == "parent" and code and not said:
            cleaned["answer"] = f"is:{code}"
        return cleaned

    def _clean_new(self, cleaned: dict[str, Any]) -> None:
        code = str(cleaned.get("code", "")).upper()
        cleaned["code"] = code
        is_trait = self.question.kind == "trait"
        if is_trait and not cleaned.get("name"):
            self.add_error("name", "Write the name of the new trait.")
        if is_trait and not code and not cleaned.get("line"):
            return  # its only line so far goes without a name
        if not _LINE.fullmatch(code):
            self.add_error("code", "Write two or three capital letters for the line.")
        if not cleaned.get("line"):
            self.add_error("line", "Write what the line is called, such as where it comes from.")

    def said(self) -> dict[str, str] | None:
        """The answer as it is kept; None: there is none."""
        given = self.cleaned_data
        said: str = given.get("answer", "")
        if not said:
            return None
        how, _, what = said.partition(":")
        if how == "new":
            return {
                "is": said, "name": given.get("name") or given["line"], "code": given["code"],
                "line": given["line"],
            }  # fmt: skip
        return {"is": how, "name": what, "code": what}


# Which fields beside the answer a kind of question has.
_ASKED: Mapping[str, tuple[str, ...]] = {
    "trait": ("name", "code", "line"),
    "line": ("code", "line"),
    "parent": ("code",),
    "species": (),
    "same": (),
}


def _choices(
    question: Question, traits: Sequence[str], codes: Mapping[str, list[str]]
) -> Iterator[tuple[str, str]]:
    match question.kind:
        case "trait":
            near = [one for one in question.near if one in traits]
            for name in (*near, *(one for one in traits if one not in near)):
                yield f"is:{name}", name
            for shown, label in _NEW.items():
                yield f"new:{shown.value}", label
            if " " in question.text:
                yield "apart", "Several names"
            yield "note", "No trait: keep it in the notes"
        case "line":
            for code in filter(None, codes.get(question.about, ())):
                yield f"is:{code}", f"{question.about} {code}"
            # Of a trait whose line has no name a second is added in the register: it asks
            # of which line the earlier animals are.
            if "" not in codes.get(question.about, ()):
                yield "new", "A new line"
            yield "note", "Not known: keep it in the notes"
        case "parent":
            for code in question.near:
                yield f"is:{code}", code
            yield "note", "Not in the book: keep it in the notes"
        case "species":
            for one in species_there():
                yield f"is:{one.name}", one.name
        case _:
            yield "same", "The same animal"
            yield "other", "Another animal"


class QuestionForms:
    """The questions of a page."""

    def __init__(self, questions: Sequence[Question], data: Any = None) -> None:
        names, codes = _register()
        sent = _sent_keys(data)
        self.left = max(0, len(questions) - SHOWN)
        self.forms = []
        for number, question in enumerate(questions[:SHOWN]):
            place = sent.get(question.key)
            form = QuestionForm(
                data if place is not None else None,
                prefix=place if place is not None else f"q{number}",
                question=question,
                traits=names.get(_species(question), []),
                codes=codes.get(_species(question), {}),
            )
            self.forms.append(form)
        same = [one for one in questions if one.kind == "same"]
        self.same = len(same)
        self.all_same = str(data.get("all_same", "")) if data is not None else ""
        self._same = same

    def is_valid(self) -> bool:
        """Check every form that was sent, so that everything wrong is said at once."""
        valid = all([form.is_valid() for form in self.forms if form.is_bound])  # noqa: C419
        for form in self.forms if valid else ():
            said = form.said() if form.is_bound else None
            if said and form.question.kind == "parent" and said["is"] == "is":
                valid = self._is_there(form, said["code"]) and valid
        return valid

    def _is_there(self, form: QuestionForm, code: str) -> bool:
        """Whether an animal is called so; one of the table is offered as near alone."""
        if code in form.question.near or is_code(code):
            return True
        form.add_error("code", f"No animal has the code {code}. Correct it, or keep it as a note.")
        return False

    def answers(self) -> dict[str, dict[str, str]]:
        """What was answered, by question."""
        found = {
            form.question.key: said
            for form in self.forms
            if form.is_bound and (said := form.said()) is not None
        }
        if self.all_same in {"same", "other"}:
            for one in self._same:
                found.setdefault(one.key, {"is": self.all_same, "name": "", "code": ""})
        return found


def _register() -> tuple[dict[str, list[str]], dict[str, dict[str, list[str]]]]:
    """By species: its traits, and the codes of each one's lines; "" of a line without name."""
    names: dict[str, list[str]] = {}
    codes: dict[str, dict[str, list[str]]] = {}
    for one in Trait.objects.live().prefetch_related("lines").order_by("name"):
        species = str(one.species_id)
        lines = [line.name and line.code for line in one.lines.all() if not line.is_withdrawn]
        names.setdefault(species, []).append(one.name)
        codes.setdefault(species, {})[one.name] = sorted(lines)
    return names, codes


def _species(question: Question) -> str:
    """The id of the species that a name or a line is asked of."""
    return question.key.split(":")[1] if question.kind in {"trait", "line"} else ""


def _sent_keys(data: Any) -> dict[str, str]:
    """Which form of what was sent is of which question, whatever was answered meanwhile."""
    if data is None:
        return {}
    keys = [name for name in data if name.endswith("-key")]
    return {str(data[name]): name.removesuffix("-key") for name in keys}
