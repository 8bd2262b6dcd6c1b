# Set up, try and check Charline. `make` alone lists what can be made.
PORT ?= 8000
# Two processes: the build machine has two cores.
PYTEST_ARGS ?= -n 2

python := .venv/bin/python
# One run of these is enough: they touch no database, or hammer files of SQLite, or spoil what is
# typed and walk pages whose acts have tests of their own.
once_is_enough := tests/calc tests/rules tests/rulebook tests/loggers tests/photographs tests/sites \
	tests/torture tests/browser tests/test_templates.py tests/test_docs.py tests/test_bad_forms.py \
	tests/test_addresses.py tests/test_scoping.py tests/test_policy.py \
	tests/standard/test_exchange.py tests/plans/test_over_cap.py tests/plans/test_importing.py

# Demo and tests must never reach a database that this shell happens to name.
unexport DATABASE_URL

# The worker that makes long documents runs beside the server and ends with it. Ctrl-C reaches both;
# the second signal ends a document in hand, which can be asked for again.
with_worker := $(python) manage.py db_worker --verbosity 0 & worker=$$!; \
	trap 'kill $$worker 2>/dev/null; wait $$worker 2>/dev/null; kill $$worker 2>/dev/null' EXIT; \
	trap 'exit 0' INT TERM;

.PHONY: help demo demo-fresh test torture lint bench pictures postgres-test clean port-is-free browser

help: ## list the targets
	@awk -F ':.*## ' '/^[a-z-]+:.*## / { printf "make %-14s %s\n", $$1, $$2 }' Makefile

demo: export CHARLINE_DEMO := 1
demo: export CHARLINE_DATA := var/demo
demo: .venv/.ok port-is-free ## load the demo ground and serve it [PORT=8000]
	$(python) manage.py migrate --verbosity 0
	$(python) manage.py collectstatic --noinput --verbosity 0
	$(python) manage.py demo
	$(python) manage.py verify_log
	@echo "Charline is at http://127.0.0.1:$(PORT)/ - stop it with Ctrl-C"
	@$(with_worker) $(python) -m granian --interface wsgi facility.project.wsgi:application \
		--host 127.0.0.1 --port $(PORT) --workers 2 --blocking-threads 2 --log-level warning

demo-fresh: port-is-free ## the same, with everything entered in the demo thrown away first
	rm -rf var/demo
	@$(MAKE) --no-print-directory demo

test: .venv/.ok browser ## run every test [PYTEST_ARGS="-k word"]
	$(python) -m pytest $(PYTEST_ARGS)

torture: export CHARLINE_KILLS ?= 1000
torture: export CHARLINE_CUTS ?= 400
torture: export CHARLINE_CUT_ACTS ?= 250
torture: .venv/.ok ## kill a writer 1,000 times and act out 400 power cuts [CHARLINE_KILLS=, CHARLINE_CUTS=]
	$(python) -m pytest -n 0 -s tests/torture

lint: .venv/.ok ## style, types, import order, forgotten migrations
	$(python) -m ruff check .
	$(python) -m ruff format --check .
	$(python) -m mypy
	.venv/bin/lint-imports
	$(python) manage.py makemigrations --check --dry-run

bench: .venv/.ok ## print the measured ratios [BENCH=word of a title]
	$(python) -m tests.bench $(BENCH)

pictures: .venv/.ok ## take the README's pictures from a running demo [PORT=8000]
	$(python) -m tests.pictures http://127.0.0.1:$(PORT)

postgres-test: .venv/.ok ## run the tests that use a database on PostgreSQL
	.ci/postgres $(python) -m pytest $(addprefix --ignore=,$(once_is_enough)) $(PYTEST_ARGS)

# Never all of var/: it is where a real ground keeps its records unless told otherwise.
clean: ## remove what was made here, the demo's data included
	rm -rf .venv var/demo .mypy_cache .ruff_cache .import_linter_cache .hypothesis
	find . -name __pycache__ -prune -exec rm -rf {} +

.venv/.ok: pyproject.toml requirements.txt .ci/setup
	.ci/setup
	@touch $@

port-is-free: .venv/.ok
	@$(python) -c "import socket; socket.create_server(('127.0.0.1', $(PORT)))" 2>/dev/null || \
		{ echo "Port $(PORT) is taken or not a port. Try: make demo PORT=8001" >&2; exit 2; }

# Without a browser its tests are skipped, with a reason; that is no failure.
browser:
	@command -v chromium >/dev/null || .ci/packages chromium || \
		echo "No Chromium: the browser tests will be skipped."
