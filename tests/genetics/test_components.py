"""The components of a graph, against SciPy's disjoint sets."""

from hypothesis import given
from hypothesis import strategies as st
from scipy.cluster.hierarchy import DisjointSet

from genetics.components import Components

items = st.integers(0, 9)


@given(st.lists(st.tuples(items, items), max_size=20))
def test_components_are_those_of_disjoint_sets(edges: list[tuple[int, int]]) -> None:
    found, expected = Components(range(10)), DisjointSet(range(10))
    for one, other in edges:
        found.join(one, other)
        expected.merge(one, other)

    assert {frozenset(each) for each in found.members()} == set(map(frozenset, expected.subsets()))
    assert all(
        found.together(one, other) == expected.connected(one, other)
        for one in range(10)
        for other in range(10)
    )


def test_components_keep_the_order_of_their_items() -> None:
    found = Components(["b", "a", "c"])
    found.join("b", "c")

    assert found.members() == [["b", "c"], ["a"]]


def test_the_second_of_two_that_are_joined_stands_for_both() -> None:
    found = Components[str]()
    found.join("a", "b")
    found.join("c", "a")

    assert (found.head("a"), found.head("c"), found.head("new")) == ("b", "b", "new")
    assert "c" in found and "d" not in found
