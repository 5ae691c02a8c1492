# Two commands set everything up on a fresh machine with Python 3.11 or newer and make:
#   make demo   builds a virtual environment, installs, makes a lesson pack from the demo tune
#   make test   installs what the tests need and runs them
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
PIP := $(BIN)/python -m pip --disable-pip-version-check install --quiet --constraint constraints.txt
# Worker processes for pytest, one more than there are cores, as browsers are waited for; `make test
# JOBS=0` runs in one.
JOBS ?= $(shell $(PYTHON) -c "import os; print((os.cpu_count() or 1) + 1)")

.PHONY: demo serve test lint bench install clean

install: $(VENV)/.installed

$(VENV)/bin/python:
	$(PYTHON) -m venv $(VENV)

$(VENV)/.installed: pyproject.toml constraints.txt | $(VENV)/bin/python
	$(PIP) --editable .
	@touch $@

$(VENV)/.installed-dev: pyproject.toml constraints.txt | $(VENV)/bin/python
	$(PIP) --editable '.[dev]'
	@touch $@ $(VENV)/.installed

demo: $(VENV)/.installed
	$(BIN)/reedwright pack examples/tunes.abc --tune 1 --out demo-pack

serve: $(VENV)/.installed
	$(BIN)/reedwright serve

# One thread for each worker: they share the cores as it is.
test: export OMP_NUM_THREADS = 1
test: export OPENBLAS_NUM_THREADS = 1
test: $(VENV)/.installed-dev
	@sh tools/reference-programs.sh
	$(BIN)/python -m pytest --numprocesses $(JOBS) --dist worksteal \
		--cov --cov-report=term:skip-covered --durations=10

lint: $(VENV)/.installed-dev
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

bench: $(VENV)/.installed-dev
	@sh tools/reference-programs.sh
	for script in benchmarks/*.py; do $(BIN)/python $$script || exit 1; done

clean:
	rm -rf $(VENV) demo-pack build dist
