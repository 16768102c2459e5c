"""Our scripts joined into one: for pages that open from disk, where a module can load no other,
and for a page that must open fast from a slow phone's own cache.

Each module becomes a function that gives what it exports. Only the forms that our scripts use
are known: `import { a, b } from "./c.js";` and `export` before a declaration.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache
from pathlib import Path

SCRIPTS = Path(__file__).parent / "js"
"""The modules; a server offers this folder."""

_IMPORT = re.compile(r'^import \{([^}]*)\} from "(\./|/)([\w./]+)";$', re.MULTILINE)
_EXPORT = re.compile(r"^export ((?:async )?(?:function|class|const) (\w+))", re.MULTILINE)
_OTHER = re.compile(r"^(?:import|export)\b.*", re.MULTILINE)


def _own(name: str) -> str:
    return (SCRIPTS / name).read_text(encoding="utf-8")


@cache
def bundle(entry: str, read: Callable[[str], str] = _own) -> str:
    """The script `entry` with all that it imports, as one classic script.

    Parameters
    ----------
    entry
        Name of a script of `SCRIPTS`, or the address of one that `read` knows.
    read
        Gives the text of a script by its name or address.

    Raises
    ------
    ValueError
        A module imports or exports in another form, or two import each other.
    """
    modules: dict[str, str] = {}
    _add(entry, read, modules, above=())
    return '"use strict";\n' + "".join(modules.values())


def _add(
    name: str, read: Callable[[str], str], modules: dict[str, str], above: tuple[str, ...]
) -> None:
    if name in above:
        raise ValueError(f"Expected no circle of imports, got {' -> '.join([*above, name])}")
    if name in modules:
        return
    folder = name.rpartition("/")[0]

    def address(found: re.Match[str]) -> str:
        beside = f"{folder}/{found[3]}" if folder else found[3]
        return beside if found[2] == "./" else f"/{found[3]}"

    source = read(name)
    for found in _IMPORT.finditer(source):
        _add(address(found), read, modules, (*above, name))
    exported = [found[2] for found in _EXPORT.finditer(source)]
    source = _IMPORT.sub(
        lambda found: f"const {{{found[1]}}} = {_variable(address(found))};", source
    )
    source = _EXPORT.sub(r"\1", source)
    if other := _OTHER.search(source):
        raise ValueError(f"Expected another form of import or export in {name}, got {other[0]}")
    body = f"{source}return {{ {', '.join(exported)} }};\n"
    modules[name] = f"const {_variable(name)} = (() => {{\n{body}}})();\n"


def _variable(name: str) -> str:
    return "module_" + re.sub(r"\W", "_", name.removesuffix(".js"))
