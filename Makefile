# Everything runs in .venv, which sets itself up. `make help` lists what there is.
# Variables to set on the command line: LAB, FILES, OUT, PYTHON.

PYTHON ?= python3
VENV ?= .venv
BUILD ?= build
OUT ?= $(BUILD)/dashboard
BIN := $(VENV)/bin
DEMO_LAB := $(BUILD)/demo/lab

# Taken as written: spaces, quotes and dollar signs in file names reach the program unharmed.
unexport LAB FILES
export BREWTRIALS_MAKE_LAB := $(value LAB)
export BREWTRIALS_MAKE_FILES := $(value FILES)
export BREWTRIALS_MAKE_OUT := $(OUT)
export PIP_DISABLE_PIP_VERSION_CHECK := 1

.DEFAULT_GOAL := help
.PHONY: help demo test check lint ingest dashboards gate bench picture tables clean

help: ## list every target
	@awk -F ':.*## ' '/^[a-z]+:.*## / { printf "  make %-12s %s\n", $$1, $$2 }' $(firstword $(MAKEFILE_LIST))

demo: $(VENV)/.ready-to-run ## set up, take in the demo lab, write its dashboard
	@$(BIN)/python -m pipeline.cli.demo data/demo $(BUILD)/demo

test: $(VENV)/.ready-to-test ## run all tests, with branch coverage
	@$(BIN)/python -m pytest --cov=schemas --cov=analysis --cov=pipeline --cov-branch --cov-fail-under=85 \
	  --cov-report=term:skip-covered

check: lint test ## lint, types, import contracts, then all tests

lint: $(VENV)/.ready-to-test ## lint, formatting, types, import contracts
	@$(BIN)/ruff check .
	@$(BIN)/ruff format --check .
	@$(BIN)/mypy
	@$(BIN)/lint-imports

ingest: $(VENV)/.ready-to-run ## take files in: make ingest LAB=my-lab FILES="log.xlsx 'March log.csv'"
	@$(BIN)/python -m pipeline.cli.from_make ingest

dashboards: $(VENV)/.ready-to-run ## write the dashboard: make dashboards LAB=my-lab [OUT=folder]
	@$(BIN)/python -m pipeline.cli.from_make dashboard

gate: $(VENV)/.ready-to-run ## check the limits in lab.toml: make gate LAB=my-lab
	@$(BIN)/python -m pipeline.cli.from_make gate

bench: $(VENV)/.ready-to-test ## measure speed and memory (takes some minutes)
	@$(BIN)/python -m tests.bench.run

picture: demo ## take the README's picture of the demo dashboard (needs chromium)
	@command -v chromium >/dev/null || { echo "No chromium found: install it, then run make picture again." >&2; exit 1; }
	@chromium --headless --no-sandbox --disable-gpu --hide-scrollbars --window-size=1280,2200 \
	  --virtual-time-budget=10000 --screenshot=data/demo/dashboard.png "file://$$PWD/$(BUILD)/demo/index.html" 2>/dev/null

tables: $(VENV)/.ready-to-run ## write the data dictionary and the row rules into README.md
	@$(BIN)/python -m pipeline.documents README.md

clean: ## remove build/ (the virtual environment stays)
	rm -rf $(BUILD)

# The stamps are made last: a set-up that was interrupted is done again.
$(VENV)/.ready-to-run: pyproject.toml constraints.txt
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo "Python 3.11 or newer is needed; $(PYTHON) is $$($(PYTHON) --version 2>&1). Try: make PYTHON=python3.12 $(MAKECMDGOALS)" >&2; exit 1; }
	@echo "Setting up $(VENV), once ..." >&2
	@test -x $(BIN)/pip || $(PYTHON) -m venv $(VENV)
	@$(BIN)/python -m pip install -qq --constraint constraints.txt --editable .
	@touch $@

$(VENV)/.ready-to-test: $(VENV)/.ready-to-run
	@echo "Adding the tools for tests to $(VENV), once ..." >&2
	@$(BIN)/python -m pip install -qq --constraint constraints.txt --editable '.[dev]'
	@touch $@
