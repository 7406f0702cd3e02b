# Two commands matter: `make run` starts the program, `make test` checks all of it.
# Each line below works without make, too; README.md shows the lines for Windows.

PYTHON ?= python3
BIN := .venv/bin
PIP := $(BIN)/python -m pip --disable-pip-version-check install --quiet

.PHONY: run install test lint bench faults

# The server, in the foreground, as one process. A folder named in NURSERY_DATA starts empty;
# without it the data live in ./data, and the demo nursery is loaded when that is new.
run: .venv/for-running
	@if [ -z "$$NURSERY_DATA" ] && [ ! -e data/nursery.sqlite3 ] && [ -z "$$NURSERY_DATABASE_URL" ]; then \
	  echo "A new data folder, ./data: loading the demo nursery."; \
	  $(BIN)/python manage.py load_demo || { rm -f data/nursery.sqlite3*; exit 1; }; \
	fi
	@exec $(BIN)/python manage.py serve

# The program alone, not started: before a backup is put in place.
install: .venv/for-running

# All that CI runs, on SQLite and on PostgreSQL. What this machine lacks is named in one line.
test: lint
	$(BIN)/python -m pytest -q -n 2 --dist loadfile
	$(BIN)/python -m tests.postgres -q -n 2 --dist loadfile

lint: .venv/for-testing
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy nursery batches tests manage.py
	$(BIN)/lint-imports
	$(BIN)/python manage.py makemigrations --check --dry-run

bench: .venv/for-testing
	$(BIN)/python -m tests.bench

# Every fault made on purpose as often as by hand; an hour or so.
faults: .venv/for-testing
	$(BIN)/python -m pytest -q tests/faults --long

# What is installed, pinned by requirements.lock. A stamp keeps the second start quick.

.venv/for-running: requirements.lock pyproject.toml | .venv/bin/python
	@echo "Installing what the program needs (once)."
	@$(PIP) --constraint requirements.lock .
	@touch $@

.venv/for-testing: requirements.lock pyproject.toml | .venv/bin/python
	@echo "Installing what the tests need (once)."
	@$(PIP) --constraint requirements.lock '.[test,postgres]'
	@touch $@ .venv/for-running

.venv/bin/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null || { \
	  echo "This needs Python 3.11 or newer; '$(PYTHON)' is none."; \
	  echo "Name another one: make PYTHON=/path/to/python3 run"; exit 1; }
	@$(PYTHON) -c 'import ensurepip, venv' 2>/dev/null || { \
	  echo "This Python cannot make an environment of its own."; \
	  echo "On Debian and Ubuntu: sudo apt-get install python3-venv"; exit 1; }
	@echo "Making .venv (once)."
	@$(PYTHON) -m venv .venv
