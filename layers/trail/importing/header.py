"""What the header of a table says: which column is which, and how its places are to be read."""

from __future__ import annotations

from collections.abc import Mapping

import pyproj

from layers.errors import BadValue, Fault, Refused
from layers.trail.importing import vector
from layers.trail.importing.columns import COLUMNS, REQUIRED, Columns, Kind, choose_columns
from layers.trail.importing.coordinates import Reprojector, reference_system, trail_location
from layers.trail.importing.shapes import AS_POINT, AS_SHAPE, Form, form_of, missing_position
from layers.trail.importing.source import Table, refused
from layers.trail.schema import TABLES
from layers.trail.store import Trail


def columns_of(
    table: Table, suffix: str, *, kind: Kind, mapping: Mapping[str, str], given: pyproj.CRS | None
) -> tuple[Columns, Form | None]:
    """Which column is which, and which of them give the place.

    Raises
    ------
    Refused
        A column is lacking that is needed, or a reference system to read the places in.
    """
    names = dict(COLUMNS[kind])
    if suffix in vector.NAMES_BOXES and kind == "boxes":
        # These formats have no columns of their own: what people fill in is the name.
        names = {"box": ("name",)} | {name: names[name] for name in names if name != "box"}
    if suffix == ".gpx" and kind == "paths":
        names["kind"] = (*names["kind"], "type")
    form: Form | None = None
    wanted = TABLES[kind].geometry
    if wanted is not None and not table.shaped:
        placed = {**AS_SHAPE, **(AS_POINT if wanted == "POINT" else {})}
        choice = choose_columns(
            table.header, names=names | placed, mapping=mapping, file=table.file
        )
        form = form_of(choice.at.keys(), system=given)
        used = (form,) if isinstance(form, str) else form or ()
        # Position columns beside those used are ignored like any other, and listed.
        names |= {name: placed[name] for name in used}
        mapping = {ours: theirs for ours, theirs in mapping.items() if ours in names}
    found = choose_columns(table.header, names=names, mapping=mapping, file=table.file)
    came = f"columns {', '.join(filter(None, table.header)) or 'without names'}"
    faults = [
        Fault(
            f"a column {name}, or one given as {name}=its name", came, file=table.file, column=name
        )
        for name in REQUIRED[kind]
        if name not in found.at
    ]
    if wanted is not None:
        # What Boxround exports is in WGS 84.
        exported = {"wkt", *TABLES[kind].columns} <= set(table.header)
        known = given is not None or exported
        missing = missing_position(table, form, wanted=wanted, crs_given=known)
        faults += [missing] if missing else []
    if faults:
        raise Refused(f"{table.file} was refused; nothing was added", tuple(faults))
    return found, form


def reprojector_of(
    table: Table, trail: Trail, *, given: pyproj.CRS | None, far_is_right: bool
) -> Reprojector:
    """What turns the file's coordinates into longitude and latitude."""
    stated = None
    if table.crs is not None:
        try:
            stated = reference_system(table.crs)
        except BadValue as error:
            if given is None:
                raise refused(table.file, error.fault.expected, error.fault.came) from error
    if (
        given is not None
        and stated is not None
        and not given.equals(stated, ignore_axis_order=True)
    ):
        table.notes.append(f"read as {given.name}, as given; the file states {stated.name}")
    try:
        return Reprojector(given or stated, trail_location(trail), far_is_right=far_is_right)
    except BadValue as error:
        raise refused(table.file, error.fault.expected, error.fault.came) from error
