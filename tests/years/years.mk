# SPDX-License-Identifier: GPL-3.0-or-later
# A simulated year of the real daemon: tests/years/README.md.

.PHONY: soak
soak: ## a simulated year of EVENSOAK_SOAK_DAYS days (365, an hour; 3: under a minute), faults every day
	$(NEED) build store test
	$(AGAIN) all
	$(Q)EVENSOAK_BUILD=$(abspath $(OUT)) $(PYTHON) tests/years/soak.py
