"""What may never be written into the project's files."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.guards.tree import files, name_of

# Put together here, so that this file does not hold what it forbids.
REGISTRIES = [
    *("py" + "pi.org", "python" + "hosted.org", "npm" + "js.org", "npm" + "js.com"),
    *("un" + "pkg.com", "js" + "delivr.net", "deb." + "debian.org", "cr" + "ates.io"),
]
MACHINE_PATHS = re.compile(r"""(?<![\w.-])/(?:root|home|Users|tmp|work|mnt|opt)/[\w.]""")
PICTURES_AND_FONTS = {".png", ".jpg", ".webp", ".woff2", ".ttf", ".pdf", ".ico", ".gz", ".xlsx"}


def lines_of(paths: list[Path]) -> Iterator[tuple[str, str]]:
    for path in paths:
        if path.suffix not in PICTURES_AND_FONTS:
            for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
                yield f"{name_of(path)}:{number}", line


def test_files_name_no_package_registry() -> None:
    assert [
        place for place, line in lines_of(files()) if any(host in line for host in REGISTRIES)
    ] == []


def test_files_name_no_path_of_one_machine() -> None:
    assert [place for place, line in lines_of(files()) if MACHINE_PATHS.search(line)] == []


def test_locks_hold_exact_versions_and_no_addresses() -> None:
    wrong = [
        place
        for place, line in lines_of(files(".txt", under=".lock/"))
        if "://" in line
        or not re.match(
            r"([\w.\[\]-]+==[\w.]+( ; [^@]+)? \\$|    --hash=sha256:[0-9a-f]{64})", line
        )
    ]
    assert wrong == []


FORBIDDEN_IN_PAGES = {
    "inline script": re.compile(r"<script(?![^>]*\bsrc=)", re.IGNORECASE),
    "inline style": re.compile(r"<style\b|\sstyle\s*=", re.IGNORECASE),
    "handler attribute": re.compile(r"\s(?:on[a-z]+|hx-on[:\w-]*)\s*=", re.IGNORECASE),
    "script address": re.compile(r"javascript:|[\"']js:", re.IGNORECASE),
    "trigger filter": re.compile(r"hx-trigger\s*=\s*[\"'][^\"']*\[", re.IGNORECASE),
    "file from elsewhere": re.compile(r"(?:src|href|action)\s*=\s*[\"'](?:https?:)?//"),
    "unsafe text": re.compile(r"\|\s*safe\b|{%\s*autoescape\s+off"),
}


@pytest.mark.parametrize("what", FORBIDDEN_IN_PAGES)
def test_templates_hold_nothing_the_policy_refuses(what: str) -> None:
    pattern = FORBIDDEN_IN_PAGES[what]
    assert [
        place
        for place, line in lines_of(files(".html", ".svg", under="templates/"))
        if pattern.search(line)
    ] == []


def test_styles_and_scripts_load_nothing_from_elsewhere() -> None:
    # Addresses inside them carry no digest either, so an update would not reach a browser.
    elsewhere = re.compile(r"@import|https?://(?!www\.w3\.org/)|\bimport\b.*from|\beval\(")
    assert [
        place
        for place, line in lines_of(files(".css", ".js", ".svg", under="static/"))
        if elsewhere.search(line)
    ] == []


def test_components_say_which_variables_they_take() -> None:
    silent = [
        name_of(path)
        for path in files(".html", under="templates/components/")
        if not re.match(r"{% comment %}.*?Takes:? .*?{% endcomment %}", path.read_text(), re.S)
    ]
    assert silent == []


# They write nothing in the book: the frame's own forms, and views of the collection with a name.
# What could not be answered sends again what another page's form held, its token too.
WRITE_NOTHING = {
    *("components/theme.html", "components/who.html", "prospects/message.html"),
    *("accounts/log_in.html", "accounts/set_up.html", "accounts/begin.html"),
    "trouble.html",
    # What a device keeps is chosen on the device.
    "offline/device.html",
    # Each is good once by itself: a code, an invitation.
    *("accounts/code.html", "accounts/join.html"),
    # And a passkey, by what it signs.
    "accounts/passkey_way.html",
    *("collection/list.html", "collection/name_view.html", "collection/views.html"),
}


def test_every_form_that_writes_is_written_once() -> None:
    bare = [
        name_of(path).removeprefix("templates/")
        for path in files(".html", under="templates/")
        for form in re.findall(r"<form\b.*?</form>", path.read_text(encoding="utf-8"), re.S)
        if 'method="post"' in form and not re.search(r"{% once( [^%]*)?%}", form)
    ]
    assert set(bare) == WRITE_NOTHING
