"""Elements of an XML document that is written. Pure."""

from xml.etree import ElementTree


def child(parent: ElementTree.Element, name: str, text: str | None = None) -> ElementTree.Element:
    """A new element at the end of `parent`."""
    made = ElementTree.SubElement(parent, name)
    made.text = text
    return made


def written(root: ElementTree.Element) -> bytes:
    """The document as UTF-8, a line an element."""
    ElementTree.indent(root)
    data: bytes = ElementTree.tostring(root, encoding="utf-8", xml_declaration=True)
    return data + b"\n"
