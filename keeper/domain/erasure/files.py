"""What of a person lies among the media: scans of their papers, tables that name them."""

import io
import zipfile
from collections.abc import Iterator
from contextlib import suppress

from django.db.models.fields.files import FieldFile

from keeper.domain.erasure.person import Person
from keeper.models import Import, Paper

# In which a name may be written in a file: plain text, and what older workbooks are made of.
_CODINGS = ("utf-8", "utf-16-le", "latin-1")
# Of a packed workbook so much of each part is looked through.
_MOST = 200 * 1024 * 1024


def scans_of(person: Person) -> list[str]:
    """Scans of a person's papers, by their names among the media; of earlier versions too."""
    names = {
        *Paper.objects.filter(source_id=person.pk).values_list("scan", flat=True),
        *Paper.history.filter(source_id=person.pk).values_list("scan", flat=True),
    }
    return sorted(name for name in names if name)


def take_out_scans(person: Person) -> None:
    """Let no paper name a scan that goes."""
    for model in (Paper, Paper.history.model):
        model._base_manager.filter(source_id=person.pk).exclude(scan="").update(scan="")


def imports_naming(person: Person) -> Iterator[Import]:
    """Tables that were brought in, or were to be, in which the person is named."""
    for one in Import.objects.order_by("pk").iterator(chunk_size=20):
        if any(person.is_in(cell) for row in one.rows() for cell in row) or _file_names(
            person, one.file
        ):
            yield one


def take_out_of_table(person: Person, one: Import) -> None:
    """Replace the person in the cells of an import, and let it name no file: that one goes."""
    one.keep_rows([[person.out_of(cell) for cell in row] for row in one.rows()])
    Import.objects.filter(pk=one.pk).update(
        table=one.table, file="", sheets=[one.sheet] if one.sheet else []
    )


def _file_names(person: Person, file: FieldFile) -> bool:
    if not file or not person.words:
        return False
    if person.is_in(str(file.name)):
        return True
    with suppress(FileNotFoundError), file.open() as opened:
        data = opened.read()
        return any(_bytes_name(person, part) for part in _parts(data))
    return False


def _parts(data: bytes) -> Iterator[bytes]:
    yield data
    if zipfile.is_zipfile(io.BytesIO(data)):
        with (
            suppress(zipfile.BadZipFile, RuntimeError),
            zipfile.ZipFile(io.BytesIO(data)) as packed,
        ):
            for inside in packed.infolist():
                with packed.open(inside) as part:
                    yield part.read(_MOST)


def _bytes_name(person: Person, data: bytes) -> bool:
    return any(person.is_in(data.decode(coding, "replace")) for coding in _CODINGS)
