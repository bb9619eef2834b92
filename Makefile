# make demo        serve the demo town at http://127.0.0.1:8000/ (PORT=… DATA=… may be given)
# make test        every test, against private PostgreSQL and Redis and on SQLite
# make check       format, lint, types, import contracts, migrations, settings of a public service
# make setup       only make the environment
# make simulate    long simulations of the statistics      make chaos  heavier breaking
# make bench       measure speed on this machine           make messages  collect page strings

SHELL := /bin/bash
.DELETE_ON_ERROR:
.PHONY: demo setup setup-test test check simulate chaos bench messages

PYTHON ?= python3
PORT ?= 8000
DATA ?= .data
export SURVEY_DATA := $(abspath $(DATA))
SURVEY_ADDRESS ?= http://127.0.0.1:$(PORT)
export SURVEY_ADDRESS
unexport MAKEFLAGS

PY := .venv/bin/python
MANAGE := $(PY) manage.py
STAMP := .venv/installed
RUN_STAMP := $(STAMP)-$(shell sha256sum requirements.lock | cut -c1-16)
TEST_STAMP := $(STAMP)-$(shell cat requirements.lock requirements-test.lock | sha256sum | cut -c1-16)-test

# $(call install,LOCK): pinned and hashed; pip's chatter is shown only when it fails.
define install
	@echo "Installing what $(1) names into .venv …"
	@.venv/bin/python -m pip install --disable-pip-version-check --quiet --require-hashes \
	    -r $(1) 2>.venv/install.log || { cat .venv/install.log >&2; exit 1; }
endef

demo: setup
	@$(MANAGE) migrate --verbosity 0
	@$(MANAGE) load_demo --if-empty
	@$(MAKE) --no-print-directory --silent $(SURVEY_DATA)/static/collected
	@exec $(MANAGE) serve --port $(PORT)

setup: $(RUN_STAMP)

setup-test: $(TEST_STAMP)

.venv/bin/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
	    { echo "Python 3.11 or newer is needed; give another by PYTHON=python3.11" >&2; exit 1; }
	@$(PYTHON) -m venv .venv || { rm -rf .venv; \
	    echo "No environment could be made. On Debian: apt-get install python3-venv" >&2; exit 1; }

$(RUN_STAMP): | .venv/bin/python
	$(call install,requirements.lock)
	@touch $@

$(TEST_STAMP): | .venv/bin/python
	$(call install,requirements-test.lock)
	@touch $(RUN_STAMP) $@

# Style sheets, scripts and pictures are gathered again only when one of them changed.
$(SURVEY_DATA)/static/collected: requirements.lock $(shell find frontend/static api -type f 2>/dev/null)
	@$(MANAGE) collectstatic --noinput --verbosity 0
	@touch $@

test: setup-test
	@$(PY) tests/launch.py

simulate: setup-test
	@$(PY) tests/launch.py --run $(PY) -m pytest tests/simulate --override-ini "python_files=simulate_*.py"

chaos: setup-test
	@CHAOS_ROUNDS=$${CHAOS_ROUNDS:-40} $(PY) tests/launch.py --run \
	    $(PY) -m pytest tests/chaos --override-ini "python_files=chaos_*.py"

bench: setup-test
	@$(PY) tests/launch.py --run $(PY) -m tests.bench

# Collects the strings of every room into frontend/locale and compiles them. Needs GNU gettext, as
# nothing else does: the compiled catalogue is kept beside its source, and a test compares the two.
messages: setup-test
	@$(MANAGE) makemessages --locale es --no-obsolete --no-wrap --add-location file \
	    --ignore "tests/*" --ignore "build/*"
	@$(MANAGE) compilemessages --locale es

# A public service with invented secrets: its settings must leave Django nothing to warn about.
CITY := DATABASE_URL=postgres://survey@127.0.0.1:1/survey REDIS_URL=redis://127.0.0.1:1/0 \
    SURVEY_HOSTS=trees.example.org SURVEY_SECRET_KEY=$(shell head -c 48 /dev/urandom | base64 -w0 | tr '+/' '-_')

check: export SURVEY_DATA := $(abspath build/check)
check: setup-test
	$(PY) -m ruff format --check .
	$(PY) -m ruff check .
	$(PY) -m mypy
	.venv/bin/lint-imports --no-cache
	$(MANAGE) makemigrations --check --dry-run
	@$(CITY) $(MANAGE) check --deploy --fail-level WARNING
