"""Photos of an animal: added, captioned, and handed out to those who are logged in."""

from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from keeper.access import account
from keeper.domain.animals import photos
from keeper.domain.book.typed import row_number
from keeper.models import Animal, Photo
from keeper.pages.animals.album import album
from keeper.pages.animals.forms import CaptionForm, PhotoForm
from keeper.pages.frame.moved import after_save
from keeper.pages.frame.refusals import written
from keeper.pages.frame.requests import form_view, require_safe


@form_view
def new(request: HttpRequest, pk: int) -> HttpResponse:
    """Add photos, one or several at once."""
    animal = get_object_or_404(Animal.objects.live(), pk=pk)
    form = PhotoForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        entry = written(
            lambda: photos.add_photos(
                animal=animal,
                uploads=given["photos"],
                by=account(request),
                caption=given["caption"],
                taken_on=given["taken_on"],
            ),
            form,
            whole="picture",
        )
        if entry is not None:
            return after_save("animals-one", entry, pk=pk)
    context = {"form": form, "animal": animal, "heading": f"Photos of {animal}", "with_file": True}
    return render(request, "animals/record.html", context)


@require_safe
def by_age(request: HttpRequest, pk: int) -> HttpResponse:
    """Show an animal's photos by its age, and two of them side by side."""
    animal = get_object_or_404(Animal.objects.select_related("species"), pk=pk)
    asked = [row_number(one) for one in request.GET.getlist("photo")]
    context = {"animal": animal, "page": album(animal, asked)}
    return render(request, "animals/photos.html", context)


@form_view
def edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change the caption or the day of a photo."""
    photo = get_object_or_404(Photo.objects.live().select_related("animal"), pk=pk)
    form = CaptionForm(request.POST or None, instance=photo)
    if request.method == "POST" and form.is_valid():
        entry = written(lambda: photos.change_photo(photo=photo, by=account(request)), form)
        if entry is not None:
            return after_save("animals-one", entry, pk=photo.animal_id)
    context = {"form": form, "animal": photo.animal, "heading": "Caption of a photo"}
    return render(request, "animals/record.html", context | {"kind": "photo", "pk": pk})


@require_safe
def picture(request: HttpRequest, pk: int) -> FileResponse | HttpResponse:
    """Hand out a photo, whole or small; kept by this browser alone."""
    photo = get_object_or_404(Photo, pk=pk)
    answer: FileResponse | HttpResponse
    try:
        if request.GET.get("size") == "small":
            answer = HttpResponse(photos.small(photo), content_type="image/jpeg")
        else:
            answer = FileResponse(photo.image.open(), content_type="image/jpeg")
    except FileNotFoundError as missing:
        raise Http404("The photo is not among the book's files.") from missing
    answer["Content-Disposition"] = f'inline; filename="photo-{photo.pk}.jpg"'
    # The file of a photo never changes; it is still no business of a shared cache.
    answer["Cache-Control"] = "private, max-age=604800, immutable"
    return answer
