# Needs only make and Python 3.11 or newer: every target sets up what it wants in .venv, once.
#   make demo          judge three example logs, write the reports into out/
#   make test          every test; FULL=1 for the long ones too; TESTS=tests/unit for a part
#   make check         format, lint, types, layers
#   make fix           what can be mended by itself: format, lint, generated reference pages
#   make docs          the documentation into docs/_build/html
#   make speed         the benchmarks, as ratios
#   make clean         remove what was made, .venv too

PYTHON ?= python3
FULL ?=
TESTS ?= tests
BIN := .venv/bin
EXAMPLES := examples/orchard-house.csv examples/mill-store.csv examples/boat-house.csv
ENVIRONMENT = @command -v $(PYTHON) >/dev/null || { echo "No $(PYTHON) was found: install Python 3.11 or newer." >&2; exit 1; }; \
	$(PYTHON) tools/environment.py

.PHONY: demo test check fix docs speed clean

demo:
	$(ENVIRONMENT) demo
	@for log in $(EXAMPLES); do \
		printf '\n%s\n\n' "== steadfeed judge $$log --report out"; \
		$(BIN)/steadfeed judge $$log --report out || exit 1; \
	done
	@echo
	@echo "The reports are in out/: open out/orchard-house.html or out/orchard-house.pdf."

test:
	$(ENVIRONMENT) all
	@FULL=$(FULL) $(BIN)/pytest -n auto $(TESTS)

check:
	$(ENVIRONMENT) all
	@$(BIN)/ruff format --check .
	@$(BIN)/ruff check .
	@$(BIN)/mypy
	@$(BIN)/lint-imports --no-logo

fix:
	$(ENVIRONMENT) all
	@$(BIN)/ruff format .
	@$(BIN)/ruff check --fix .
	@$(BIN)/python tools/reference_pages.py

docs:
	$(ENVIRONMENT) all
	@$(BIN)/sphinx-build -W --keep-going -q -b html docs docs/_build/html
	@echo "The documentation is in docs/_build/html/index.html."

speed:
	$(ENVIRONMENT) all
	@$(BIN)/python benchmarks/run.py

clean:
	rm -rf .venv out dist build docs/_build .pytest_cache .mypy_cache .ruff_cache .import_linter_cache .hypothesis
	find src tests tools benchmarks -name __pycache__ -type d -prune -exec rm -rf {} +
