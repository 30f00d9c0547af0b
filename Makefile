# Two commands matter: `make demo` and `make test`. Each sets up what it needs.
PYTHON ?= python3
VENV   := .venv
BIN    := $(VENV)/bin
PIP    := $(BIN)/python -m pip --disable-pip-version-check install --quiet
export WETSIDE_HOME ?= $(CURDIR)/demo-book

.PHONY: demo serve test check bench clean

$(VENV)/bin/python:
	$(PYTHON) -m venv $(VENV)

$(VENV)/.run: $(VENV)/bin/python requirements/demo.txt pyproject.toml
	$(PIP) --require-hashes --only-binary :all: -r requirements/demo.txt
	$(PIP) --no-deps --no-build-isolation -e .
	touch $@

$(VENV)/.test: $(VENV)/bin/python requirements/test.txt pyproject.toml
	$(PIP) --require-hashes --only-binary :all: -r requirements/test.txt
	$(PIP) --no-deps --no-build-isolation -e .
	$(BIN)/python scripts/find_chromium.py
	touch $@ $(VENV)/.run

demo: $(VENV)/.run   ## build the demo book and scans, run the whole job, say where to look
	$(BIN)/wetside demo

serve: $(VENV)/.run  ## open the web face on the demo book
	$(BIN)/wetside serve

check: $(VENV)/.test ## lint, types, arrows
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/lint-imports
	$(BIN)/mypy
	$(BIN)/python scripts/check_scripts.py

test: check          ## everything, the browser included
	$(BIN)/python -m pytest -n 2 --dist loadfile --no-loadscope-reorder

bench: $(VENV)/.test ## ratios of GOALS, one run
	$(BIN)/python -m benchmarks

clean:
	rm -rf $(VENV) demo-book build dist
