"""The public address: one that a browser takes for secure, or none."""

import pytest

from keeper.serving.addresses import public_address


def test_an_address_is_kept_without_the_slash_at_its_end() -> None:
    assert public_address("https://papers.example.org/snakes/") == (
        "https://papers.example.org/snakes"
    )
    assert public_address("") == ""


@pytest.mark.parametrize(
    "said",
    [
        "http://papers.example.org", "papers.example.org", "https://", "https://a.example/?x=1",
        "https://a.example/#x", "https://me@a.example/", "javascript:alert(1)",
    ],
)  # fmt: skip
def test_another_address_is_refused(said: str) -> None:
    with pytest.raises(ValueError, match="it must be like https"):
        public_address(said)
