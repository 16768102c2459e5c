# The few verbs of the project. Everything is installed into .venv; nothing outside this folder.

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
PIP := $(BIN)/python -m pip install --quiet --disable-pip-version-check -c .ci/constraints.txt
DEMO := out/alderbeck.gpkg
# The demo opens on a day in the middle of its last season.
DEMO_DAY := 2026-06-03
PORT ?= 8000

.PHONY: demo test lint bench clean

demo: $(VENV)/ready $(DEMO)
	$(BIN)/boxround serve $(DEMO) --on $(DEMO_DAY) --port $(PORT)

$(DEMO): | $(VENV)/ready
	$(BIN)/python -m data_demo.build $@

test: $(VENV)/ready-for-work
	$(BIN)/python -m pytest

lint: $(VENV)/ready-for-work
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy

bench: $(VENV)/ready-for-work
	$(BIN)/python -m tests.bench

$(VENV)/ready: pyproject.toml .ci/constraints.txt
	@$(PYTHON) -c "import sys; sys.exit('Python 3.11 or newer is needed, this is ' + sys.version) if sys.version_info < (3, 11) else None"
	@echo "Installing Boxround into $(VENV), once ..."
	@test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	@$(PIP) -e .
	@touch $@

# gdal-utils holds GDAL's GeoPackage validator; without its own dependency it needs no GDAL.
$(VENV)/ready-for-work: $(VENV)/ready
	@echo "Installing what tests need ..."
	@$(PIP) -e .[dev]
	@$(PIP) --no-deps gdal-utils
	@touch $@

clean:
	rm -rf $(VENV) out build *.egg-info
