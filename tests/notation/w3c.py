"""MusicXML 4.0 as the W3C publishes it, to hold documents against."""

import io
from functools import cache
from importlib.resources import files
from typing import Any

from lxml import etree

XLINK = """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="http://www.w3.org/1999/xlink">
 <xs:attribute name="href" type="xs:anyURI"/> <xs:attribute name="type" type="xs:string"/>
 <xs:attribute name="role" type="xs:string"/> <xs:attribute name="title" type="xs:string"/>
 <xs:attribute name="show" type="xs:string"/> <xs:attribute name="actuate" type="xs:string"/>
</xs:schema>"""
XML = """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="http://www.w3.org/XML/1998/namespace">
 <xs:attribute name="lang" type="xs:language"/> <xs:attribute name="space" type="xs:string"/>
</xs:schema>"""


class _Local(etree.Resolver):
    """The two schemas that the W3C's imports, which hold attributes of links and languages."""

    def resolve(self, url: str, _: str | None, context: Any) -> Any:
        text = {"xlink.xsd": XLINK, "xml.xsd": XML}.get(url.rsplit("/", 1)[-1])
        return self.resolve_string(text, context) if text else None


@cache
def _schema() -> etree.XMLSchema:
    """MusicXML 4.0 as the W3C publishes it, out of the package ``musicxml``."""
    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(_Local())
    text = files("musicxml").joinpath("generate_classes/musicxml_4_0.xsd").read_bytes()
    return etree.XMLSchema(etree.parse(io.BytesIO(text), parser))


def valid(document: bytes) -> etree.XMLSchema:
    """The schema, with what is wrong in the document in its ``error_log``."""
    schema = _schema()
    schema.validate(etree.fromstring(document, etree.XMLParser(no_network=True, load_dtd=False)))
    return schema
