# Every command goes through one script of the standard library, so that it works from a fresh clone.
PYTHON ?= python3

.PHONY: run test check bench install
run test check bench install:
	@$(PYTHON) scripts/setup.py $@
