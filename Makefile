# The whole vocabulary: run, test, lint, bench, docs (and deep for the long proofs, lock to renew the pins).
PYTHON ?= python3
PORT ?= 8770
JOB ?=
OUT ?= out
V := .venv
BIN := $(V)/bin
.DEFAULT_GOAL := help
.PHONY: help run test deep lint bench docs lock clean

help:
	@echo "make run [JOB=path] [PORT=n]  plan a job (the demo without JOB), print where the card is, serve the page"
	@echo "make test                     run every test; make deep adds the long proofs"
	@echo "make lint | bench | docs      check the code | measure it | rebuild the generated pages and pictures"

$(V)/.run: requirements/run.txt pyproject.toml
	$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11) and "lagline needs Python 3.11 or newer, this is " + sys.version.split()[0])'
	$(PYTHON) -m venv $(V)
	$(BIN)/python -m pip install -q --disable-pip-version-check --require-hashes -r requirements/run.txt
	$(BIN)/python -m pip install -q --disable-pip-version-check --no-deps --no-build-isolation -e .
	@touch $@

$(V)/.test: $(V)/.run requirements/test.txt
	$(BIN)/python -m pip install -q --disable-pip-version-check --require-hashes -r requirements/test.txt
	@touch $@

run: $(V)/.run
	$(BIN)/lagline start $(if $(JOB),"$(JOB)") --out "$(OUT)" --port $(PORT)

test: $(V)/.test
	@sh tools/system-packages.sh
	$(BIN)/python -m pytest -n auto --dist loadfile -m "not deep"

deep: $(V)/.test
	@sh tools/system-packages.sh
	HYPOTHESIS_PROFILE=anew $(BIN)/python -m pytest -n auto --dist loadfile -m "deep or not deep"

lint: $(V)/.test
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

bench: $(V)/.test
	$(BIN)/python bench/run.py

docs: $(V)/.test
	$(BIN)/python tools/make_docs.py

# Renew the pins (needs uv). The files name packages and hashes, never where they were downloaded.
lock:
	cd requirements && for f in run test; do uv pip compile --universal --python-version 3.11 --generate-hashes \
	  --no-header --no-emit-index-url --no-emit-find-links -q $$f.in -o $$f.txt; done

clean:
	rm -rf $(V) out .mypy_cache .ruff_cache .pytest_cache
