"""Our scripts joined into one, for pages that open from disk: there a module can load no other.

Each module becomes a function that gives what it exports. Only the forms that our scripts use
are known: `import { a, b } from "./c.js";` and `export` before a declaration.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

SCRIPTS = Path(__file__).parent / "js"
"""The modules; a server offers this folder."""

_IMPORT = re.compile(r'^import \{([^}]*)\} from "\./([\w.]+)";$', re.MULTILINE)
_EXPORT = re.compile(r"^export ((?:async )?(?:function|class|const) (\w+))", re.MULTILINE)
_OTHER = re.compile(r"^(?:import|export)\b.*", re.MULTILINE)


@cache
def bundle(entry: str) -> str:
    """The script `entry` of `SCRIPTS` with all that it imports, as one classic script.

    Raises
    ------
    ValueError
        A module imports or exports in another form, or two import each other.
    """
    modules: dict[str, str] = {}
    _add(entry, modules, above=())
    return '"use strict";\n' + "".join(modules.values())


def _add(name: str, modules: dict[str, str], above: tuple[str, ...]) -> None:
    if name in above:
        raise ValueError(f"Expected no circle of imports, got {' -> '.join([*above, name])}")
    if name in modules:
        return
    source = (SCRIPTS / name).read_text(encoding="utf-8")
    for found in _IMPORT.finditer(source):
        _add(found[2], modules, (*above, name))
    exported = [found[2] for found in _EXPORT.finditer(source)]
    source = _IMPORT.sub(lambda found: f"const {{{found[1]}}} = {_variable(found[2])};", source)
    source = _EXPORT.sub(r"\1", source)
    if other := _OTHER.search(source):
        raise ValueError(f"Expected another form of import or export in {name}, got {other[0]}")
    body = f"{source}return {{ {', '.join(exported)} }};\n"
    modules[name] = f"const {_variable(name)} = (() => {{\n{body}}})();\n"


def _variable(name: str) -> str:
    return f"module_{name.removesuffix('.js')}"
