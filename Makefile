# One definition of each check: people, pre-commit and .ci/run all come here.
PYTHON ?= python3
PORT ?= 8000
BIN := .venv/bin

.PHONY: run test search lint format bench readings migration clean

run: .venv/.ready-run  ## Serve the Larch Lane demo on 127.0.0.1:$(PORT)
	@sh deploy/need.sh mosquitto
	@$(BIN)/wheelward demo --port $(PORT)

test: .venv/.ready-test  ## All tests; none may be skipped
	@sh deploy/need.sh mosquitto chromium
	$(BIN)/pytest -n auto --dist loadfile

search: .venv/.ready-test  ## New random examples, and many, for every property test
	@sh deploy/need.sh mosquitto chromium
	$(BIN)/pytest -n auto -m hypothesis --hypothesis-profile search

lint: .venv/.ready-lint  ## Style, types and the import contract
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports --no-cache

format: .venv/.ready-lint  ## Put the code into the house style
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

bench: .venv/.ready-test  ## Ratios against named yardsticks, measured in this run
	@sh deploy/need.sh mosquitto chromium
	$(BIN)/python -m tests.bench

readings: .venv/.ready-run  ## Make sample_readings/ again, byte for byte
	$(BIN)/python -m sensors.simulated history sample_readings

migration: .venv/.ready-lint  ## Write what changed in the tables as a migration: NAME="what changed"
	$(BIN)/python -m service.store.migrations "$(NAME)"
	$(BIN)/ruff check --fix -q service/store/migrations
	$(BIN)/ruff format -q service/store/migrations

.venv/.made:
	@sh deploy/need.sh venv "$(PYTHON)"
	@touch $@

.venv/.ready-run: .venv/.made pyproject.toml constraints.txt
	@echo "Installing Wheelward into .venv"
	@$(BIN)/python -m pip install --disable-pip-version-check -c constraints.txt -e .
	@touch $@

.venv/.ready-test: .venv/.ready-run
	@echo "Installing what the tests need into .venv"
	@$(BIN)/python -m pip install --disable-pip-version-check -c constraints.txt -e '.[test]'
	@touch $@

.venv/.ready-lint: .venv/.ready-test
	@echo "Installing the linters into .venv"
	@$(BIN)/python -m pip install --disable-pip-version-check -c constraints.txt -e '.[lint]'
	@touch $@

clean:  ## Remove the environment, not the data
	rm -rf .venv build *.egg-info
