# Two commands set up all they need: `make demo` runs the main job, `make test` the tests.

# The first Python of the machine that is new enough.
PYTHON ?= $(shell for p in python3 python3.14 python3.13 python3.12 python3.11 python; do \
	$$p -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null && echo $$p && break; done)
BIN := .venv/bin
RUN := $(BIN)/python

.PHONY: demo test test-quick lint type bench pictures clean

demo: .venv/ready
	@$(RUN) -m packhand demo $(DEMO)

test: .venv/ready-for-tests lint type
	@$(RUN) -m tests.machine
	@$(RUN) -m pytest -n 2 --dist loadfile

test-quick: .venv/ready-for-tests
	@$(RUN) -m pytest -m "not browser and not slow" -n 2 --dist loadfile

lint: .venv/ready-for-tests
	@$(RUN) -m ruff check .

type: .venv/ready-for-tests
	@$(RUN) -m mypy

bench: .venv/ready-for-tests
	@$(RUN) -m tests.benchmarks

# The README's pictures, made anew.
pictures: .venv/ready-for-tests
	@$(RUN) -m tests.pictures

.venv/bin/python:
	@test -n "$(PYTHON)" || { echo "packhand needs Python 3.11 or newer; none was found on this machine"; exit 1; }
	@$(PYTHON) -m venv .venv || { echo "Python's venv module does not work here; on Debian: apt install python3-venv"; rm -rf .venv; exit 1; }

.venv/ready: .venv/bin/python pyproject.toml requirements.lock
	@echo "setting up .venv (once) ..."
	@$(RUN) -m pip install --quiet --disable-pip-version-check --constraint requirements.lock --editable .
	@touch $@

.venv/ready-for-tests: .venv/ready
	@echo "adding what the tests need (once) ..."
	@$(RUN) -m pip install --quiet --disable-pip-version-check "pip>=25.1"
	@$(RUN) -m pip install --quiet --disable-pip-version-check --constraint requirements.lock --group test
	@touch $@

clean:
	rm -rf .venv .pytest_cache .mypy_cache .ruff_cache .hypothesis demo
