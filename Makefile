# Every target forwards to one standard-library program; without make, run
# `python3 deploy/bootstrap demo` (or test, lint, bench) instead.
PYTHON ?= python3
ARGS ?=

.DEFAULT_GOAL := help
.PHONY: help demo test lint bench

help: ## say what there is to run
	@awk -F ':.*## ' '/^[a-z]+:.*## / {printf "make %-6s %s\n", $$1, $$2}' $(MAKEFILE_LIST)

demo: ## start the register with an invented network (SERVE=0: stop after the summary; PORT=8000)
	@$(PYTHON) deploy/bootstrap demo

test: ## run every test, on SQLite and on PostgreSQL (ARGS="tests/sites -k position": only these, once)
	@$(PYTHON) deploy/bootstrap test $(ARGS)

lint: ## style, types, imports, migrations, deployment checks
	@$(PYTHON) deploy/bootstrap lint

bench: ## measure the speed of the calculations; the figures go to var/bench.json
	@$(PYTHON) deploy/bootstrap bench
