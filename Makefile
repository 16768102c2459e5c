# The few verbs of the project. Everything is installed into .venv; nothing outside this folder.

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
PIP := $(BIN)/python -m pip install --quiet --disable-pip-version-check -c .ci/constraints.txt
PARALLEL := -n auto --dist loadfile
DEMO := out/alderbeck.gpkg
PORT ?= 8000

.PHONY: demo test quick long lint scripts bench clean

demo: $(VENV)/ready
	@$(BIN)/boxround prepare
	@$(BIN)/boxround demo $(DEMO) --port $(PORT)

# All tests, but for hundreds of repetitions; one process a processor, a test file in one of them.
test: $(VENV)/ready-for-work
	$(BIN)/python -m pytest $(PARALLEL)

# Without a browser, a server or long simulations: to run after every change.
quick: $(VENV)/ready-for-work
	$(BIN)/python -m pytest $(PARALLEL) -m "not (browser or server or slow or long)"

long: $(VENV)/ready-for-work
	$(BIN)/python -m pytest $(PARALLEL) -m long

lint: $(VENV)/ready-for-work
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy

# Types and unit tests of the pages' scripts, with Node and npm; the pages need neither.
scripts: tests/js/node_modules/.package-lock.json
	cd tests/js && npm run --silent types && npm test --silent

tests/js/node_modules/.package-lock.json: tests/js/package-lock.json
	cd tests/js && npm ci --silent && touch node_modules/.package-lock.json

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
	rm -rf $(VENV) out build dist *.egg-info
