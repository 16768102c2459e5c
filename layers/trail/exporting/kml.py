"""KML 2.2 (OGC 07-147r2) of all collections: a folder each."""

from __future__ import annotations

from pathlib import Path
from typing import Any
from xml.etree.ElementTree import Element, tostring

import shapely

from layers.trail.exporting.collection import Collection, Row, Source
from layers.trail.exporting.xml_text import child, plain

_HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n<kml xmlns="http://www.opengis.net/kml/2.2">\n'


def write_kml(path: Path, source: Source) -> None:
    """Write every collection; columns go into `ExtendedData`."""
    described = source.statement + (f" Terms: {source.licence}" if source.licence else "")
    with path.open("w", encoding="utf-8") as file:
        file.write(f"{_HEAD}<Document>\n")
        for tag, text in (("name", source.title), ("description", described)):
            element = Element(tag)
            element.text = plain(text)
            file.write(tostring(element, encoding="unicode") + "\n")
        for name in source.names:
            collection = source.collection(name)
            title = Element("name")
            title.text = plain(collection.name)
            file.write(f"<Folder>{tostring(title, encoding='unicode')}\n")
            for page in collection.pages():
                file.writelines(
                    tostring(_placemark(row, collection), encoding="unicode") + "\n" for row in page
                )
            file.write("</Folder>\n")
        file.write("</Document>\n</kml>\n")


def _placemark(row: Row, collection: Collection) -> Element:
    mark = Element("Placemark")
    child(mark, "name", row.id)
    data = child(mark, "ExtendedData")
    for column in collection.fields:
        value = row.values[column.name]
        if value is not None:
            child(child(data, "Data", attributes={"name": column.name}), "value", value)
    if row.shape is not None and not row.shape.is_empty:
        _add_shape(mark, row.shape)
    return mark


def _add_shape(parent: Element, shape: Any) -> None:
    if shape.geom_type == "Polygon":
        polygon = child(parent, "Polygon")
        for tag, rings in (
            ("outerBoundaryIs", [shape.exterior]),
            ("innerBoundaryIs", shape.interiors),
        ):
            for ring in rings:
                made = child(child(polygon, tag), "LinearRing")
                child(made, "coordinates", _coordinates(ring))
    else:
        child(child(parent, shape.geom_type), "coordinates", _coordinates(shape))


def _coordinates(shape: Any) -> str:
    numbers = shapely.get_coordinates(shape, include_z=shape.has_z)
    return " ".join(",".join(repr(float(number)) for number in vertex) for vertex in numbers)
