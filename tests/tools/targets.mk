# SPDX-License-Identifier: GPL-3.0-or-later
# What one can ask make for beyond building: see `make help`.

# Debian packages; the one list that demo, check and CI share is tests/tools/packages.
packages:
	$(Q)sh tests/tools/need-packages $(NEED)

check-static: ## layers, headers, symbols
	$(Q)sh tests/tools/check-includes
	$(Q)sh tests/tools/check-headers

check-unit: $(UNIT_PROGRAMS) ## the unit tests alone
	$(Q)sh tests/tools/run-unit $(UNIT_PROGRAMS)

clean: ## remove everything made
	rm -rf build

help: ## this list
	@grep -hE '^[a-z-]+:.*## ' $(MAKEFILE_LIST) | sed 's/:.*## /\t/' | sort | awk -F'\t' '{printf "  make %-14s %s\n", $$1, $$2}'
	@echo "  MODE=release|debug|asan|tsan|coverage  V=1 (show commands)  WERROR=1"
