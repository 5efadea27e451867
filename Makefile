# `make run` starts the brewery's server, `make test` runs the whole suite; `make help` lists the rest.

# Every recipe starts by going here, so that `make -f some/where/Makefile` works from anywhere.
ROOT := $(dir $(lastword $(MAKEFILE_LIST)))
IN := cd "$(ROOT)" &&
PYTHON_IN_VENV := .venv/bin/python
# How many processes share the tests.
JOBS ?= 2

ifeq ($(shell uname -s),Darwin)
# Homebrew's folder is not where macOS looks for the libraries that draw PDFs; and the variable
# has to be set in the recipe itself, since macOS takes it away from a shell that inherits it.
IN += export DYLD_FALLBACK_LIBRARY_PATH="$$(brew --prefix)/lib:/usr/local/lib:/usr/lib" &&
endif

.DEFAULT_GOAL := help

.PHONY: help
help: ## List what can be made
	@$(IN) sed -n 's/^\([a-z-]*\):.*## \(.*\)/\1	\2/p' Makefile | awk -F'	' '{ printf "  make %-14s %s\n", $$1, $$2 }'

# --- for the brewery ---

.PHONY: run
run: ## Get this machine ready, then serve; data is kept from run to run
	@$(IN) .ci/machine/prepare run && exec $(PYTHON_IN_VENV) manage.py serve

# --- for the contributor ---

.PHONY: prepare
prepare: ## Get this machine ready for the tests: packages, Chromium, Java, zbar, page checkers
	@$(IN) .ci/machine/prepare test

.PHONY: test
test: prepare ## Everything: style, types, floors, migrations, all tests
	@$(IN) $(MAKE) --no-print-directory -j 2 checked tests

# Beside the tests, which leave a core idle now and then; what one of them finds ends the whole.
.PHONY: checked
checked: lint types imports migrations

# Our own tags with an end of their own, which templates are indented by too.
TAGS := pagehead section listrow datatable notice tabs chips disclosure figurecard signpanel emptystate
DJHTML := -m djhtml --tabwidth 2 $(foreach tag,$(TAGS),--extra-block $(tag),end$(tag))

.PHONY: lint
lint: ## Style: ruff's rules and format, and the templates' indents
	@$(IN) $(PYTHON_IN_VENV) -m ruff check .
	@$(IN) $(PYTHON_IN_VENV) -m ruff format --check .
	@$(IN) $(PYTHON_IN_VENV) $(DJHTML) --check templates

.PHONY: format
format: ## Rewrite code and templates in their format, mending what ruff can mend
	@$(IN) $(PYTHON_IN_VENV) -m ruff check --fix .
	@$(IN) $(PYTHON_IN_VENV) -m ruff format .
	@$(IN) $(PYTHON_IN_VENV) $(DJHTML) templates

.PHONY: types
types: ## Types: mypy with Django's stubs
	@$(IN) $(PYTHON_IN_VENV) -m mypy

.PHONY: imports
imports: ## Floors: no room imports from a higher one
	@$(IN) .venv/bin/lint-imports

.PHONY: migrations
migrations: ## No change to a model is without its migration
	@$(IN) $(PYTHON_IN_VENV) manage.py makemigrations --check --dry-run --settings=tests.settings

.PHONY: tests
tests: ## All tests, browser tests included
	@$(IN) $(PYTHON_IN_VENV) -m pytest -q -n $(JOBS) --dist worksteal

.PHONY: unit
unit: ## The tests that need no browser
	@$(IN) $(PYTHON_IN_VENV) -m pytest -q -n $(JOBS) -m "not browser"

.PHONY: browser
browser: ## Only the browser tests
	@$(IN) $(PYTHON_IN_VENV) -m pytest -q -n $(JOBS) tests/browser

.PHONY: week
week: ## The tests that look at days or hours, at every hour of a week
	@$(IN) $(PYTHON_IN_VENV) -m pytest -q -n $(JOBS) --dist worksteal --every-hour -m "instants or hourly" --maxfail 20

# How many inputs, and where their chances begin: INPUTS=1000000 SEED=7 make fuzz, over a night.
INPUTS ?= 10000
SEED ?= 0

.PHONY: fuzz
fuzz: ## Send every form and address what nobody in good faith would (INPUTS=..., SEED=...)
	@$(IN) FUZZ_INPUTS=$(INPUTS) FUZZ_SEED=$(SEED) FUZZ_SHARES=$(JOBS) $(PYTHON_IN_VENV) -m pytest -q -rP -n $(JOBS) -o faulthandler_timeout=0 tests/fuzz

.PHONY: test-all
test-all: test test-postgres fuzz ## Everything of test, then PostgreSQL and ten thousand inputs

.PHONY: test-postgres
test-postgres: ## The tests that need no browser, on a PostgreSQL started for them
	@$(IN) .ci/machine/with_postgres $(PYTHON_IN_VENV) -m pytest -q -n $(JOBS) -m "not browser"

.PHONY: mutants
mutants: ## Change the rules in one small way at a time; tests have to notice (up to 3 h, resumes)
	@$(IN) $(PYTHON_IN_VENV) -m tests.mutants

.PHONY: checks
checks: ## The checks against the world outside, one line each
	@$(IN) $(PYTHON_IN_VENV) -m pytest -v tests/published

.PHONY: pictures
pictures: ## Take README's pictures again
	@$(IN) $(PYTHON_IN_VENV) -m tests.browser.pictures

.PHONY: screens
screens: ## Take pictures of every kind of screen into var/screens, to look at
	@$(IN) $(PYTHON_IN_VENV) -m tests.browser.screens --sheet

.PHONY: bench
bench: ## Measure logger files, sums over arrays, and the pages on a large invented brewery
	@$(IN) $(PYTHON_IN_VENV) -m tests.bench.logger_files
	@$(IN) $(PYTHON_IN_VENV) -m tests.bench

.PHONY: simulate
simulate: ## Simulate the methods of limits and the charts, and write their tables anew
	@$(IN) $(PYTHON_IN_VENV) -m tests.simulation

.PHONY: lock
lock: ## Choose the newest allowed packages and write both lock files
	@$(IN) $(PYTHON_IN_VENV) -m pip install --quiet --disable-pip-version-check uv==0.13.9
	@$(IN) $(PYTHON_IN_VENV) -m uv pip compile pyproject.toml --upgrade --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-annotate --no-header -q -o requirements.lock
	@$(IN) $(PYTHON_IN_VENV) -m uv pip compile pyproject.toml --upgrade --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-annotate --no-header -q --extra test -c requirements.lock -o requirements-test.lock
