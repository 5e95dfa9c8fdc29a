# SPDX-License-Identifier: GPL-3.0-or-later
# What the program was held against, and what came of it, as people read it.

.PHONY: validation

# All tests that hold something against a value from outside: whoever includes such values
# and records nothing fails.
VALIDATED = $(filter-out %/test_published.c,$(sort $(shell \
    grep -lE '"tests/(reference/[a-z_]+|unit/published)\.h"' $(UNIT_SOURCES) $(wildcard tests/physics/test_*.c))))
VALIDATED_PROGRAMS = $(patsubst tests/%.c,$(OUT)/tests/%,$(VALIDATED))
VALIDATION_PAGE = $(OUT)/man/man7/evensoak-validation.7
validation: ## each published source: what was computed, expected and got; to validation.txt
	$(NEED) build test
	$(AGAIN) validation-built
.PHONY: validation-built
validation-built: all $(VALIDATED_PROGRAMS)
	$(Q)PYTHON='$(PYTHON)' tests/reference/validate $(abspath $(OUT)) $(abspath $(VALIDATED_PROGRAMS)) \
	    tests/system/test_capability_scipy.py

# Installed where it was made; the package makes it.
MANPAGES_MADE += $(wildcard $(VALIDATION_PAGE))
$(foreach p,$(VALIDATION_PAGE),$(eval $(call HTML_template,$(p))))
