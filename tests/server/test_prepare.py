"""What is compiled ahead is all that pages need: no reader waits for a compiler."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

PAGES = ("/", "/boxes/M05", "/boxes/M05/card", "/due", "/round", "/api/round", "/season", "/open")

# In a process of its own, that has compiled or loaded nothing yet.
PREPARED_AND_SHOWN = """
import datetime as dt, gc, json, sys
from pathlib import Path
from fastapi.testclient import TestClient
from numba.core.dispatcher import Dispatcher
from server.app import create_app
from server.live import prepare
from server.settings import ServerSettings

def compiled():
    found = (one for one in gc.get_objects() if isinstance(one, Dispatcher))
    return {f"{one.py_func.__module__}.{one.py_func.__name__}{types}"[:400]
            for one in found for types in one.signatures}

prepare._nests(lambda text: None)
prepare._plan()
before = compiled()
assert before
app = create_app(ServerSettings(trail=Path(sys.argv[1]), on=dt.date(2026, 6, 3)))
with TestClient(app, base_url="http://127.0.0.1") as client:
    for page in sys.argv[2:]:
        answer = client.get(page, headers={"Accept": "text/html"})
        assert answer.status_code == 200, (page, answer.text[:500])
print(json.dumps(sorted(compiled() - before)))
"""


@pytest.mark.server
def test_pages_need_no_compiled_code_that_was_not_prepared(few_boxes: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-c", PREPARED_AND_SHOWN, str(few_boxes), *PAGES],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout == "[]\n"
