# On a fresh Debian 12 nothing but make and this folder is needed: the rest is installed here.
PORT ?= 8000
PY := .venv/bin/python
CODE := curing shop jobs tools manage.py
# A process for each core, each with servers of its own; a file's tests stay together, in order.
AT_ONCE := --numprocesses auto --maxprocesses 4 --dist loadfile --no-loadscope-reorder

# Lint and tests read the settings; the demo's are those that need nothing from outside.
export CUREWRIGHT_DEMO ?= yes
# Tests start dozens of programs of the app: each would compile all of its code anew.
unexport PYTHONDONTWRITEBYTECODE

.NOTPARALLEL:
.PHONY: help demo demo-reset test coverage lint format lock screenshots bench bench-plan clean system-run system-test

help:
	@echo "make demo         the app with an invented shop, on http://127.0.0.1:$(PORT)"
	@echo "make demo-reset   throw the demo's data away"
	@echo "make test         lint, types and every test"
	@echo "make lint format lock coverage screenshots bench bench-plan clean"

demo: system-run .venv/run.stamp
	@exec $(PY) -m tools.demo run --port $(PORT)

demo-reset: system-run .venv/run.stamp
	@exec $(PY) -m tools.demo reset

# The planner's loops are compiled, once for a state of the code, while lint has the other core.
test: system-test .venv/dev.stamp
	@$(PY) manage.py warm_planner & compiling=$$!; \
	$(MAKE) --no-print-directory lint || { kill $$compiling; exit 1; }; \
	wait $$compiling
	$(PY) -m pytest $(AT_ONCE)

# The same tests, watched: they take twice as long so.
coverage: system-test .venv/dev.stamp
	$(PY) -m pytest $(AT_ONCE) --cov --cov-report=term:skip-covered

lint: .venv/dev.stamp
	$(PY) -m ruff check .
	$(PY) -m ruff format --check .
	.venv/bin/lint-imports
	$(PY) -m mypy $(CODE)

format: .venv/dev.stamp
	$(PY) -m ruff check --fix .
	$(PY) -m ruff format .

lock:
	@tools/lock.sh

screenshots: system-test .venv/dev.stamp
	$(PY) -m tools.screenshots

bench: .venv/dev.stamp
	$(PY) -m tools.bench

bench-plan: .venv/dev.stamp
	$(PY) -m tools.bench_plan
	$(PY) -m tools.bench_replan
	$(PY) -m tools.bench_rescue
	$(PY) -m tools.bench_range

clean:
	rm -rf .venv .coverage .coverage.* .mypy_cache .ruff_cache .pytest_cache .hypothesis .import_linter_cache
	find . -name __pycache__ -not -path './var/*' -prune -exec rm -rf {} +

system-run:
	@tools/system.sh run

system-test:
	@tools/system.sh test

.venv/run.stamp: requirements/run.txt
	@tools/venv.sh run

.venv/dev.stamp: requirements/dev.txt requirements/run.txt
	@tools/venv.sh dev
