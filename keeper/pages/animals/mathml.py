"""MathML of a working made safe to print: only the elements that a formula needs."""

from xml.etree import ElementTree

from django.utils.safestring import SafeString, mark_safe

_NAMESPACE = "http://www.w3.org/1998/Math/MathML"
_ELEMENTS = frozenset(
    {
        *("math", "mrow", "mi", "mn", "mo", "mtext", "mspace", "mfrac", "msqrt", "mroot"),
        *("msub", "msup", "msubsup", "munder", "mover", "munderover", "mtable", "mtr", "mtd"),
        *("mpadded", "mphantom", "mstyle", "mfenced"),
    }
)
_ATTRIBUTES = frozenset({"display", "columnalign", "open", "close", "separators", "mathvariant"})


def safe_mathml(text: str) -> SafeString:
    """Return a formula with nothing but elements of formulas in it; empty if it is none."""
    try:
        root = ElementTree.fromstring(text)
    except ElementTree.ParseError:
        return SafeString("")
    if not _cleaned(root):
        return SafeString("")
    root.set("display", "block")
    return mark_safe(ElementTree.tostring(root, encoding="unicode"))


def _cleaned(element: ElementTree.Element) -> bool:
    """Strip namespaces and attributes in place; False if there is an element that is no formula."""
    element.tag = element.tag.removeprefix(f"{{{_NAMESPACE}}}")
    if element.tag not in _ELEMENTS:
        return False
    for name in [name for name in element.attrib if name not in _ATTRIBUTES]:
        del element.attrib[name]
    return all(_cleaned(child) for child in element)
