# SPDX-License-Identifier: GPL-3.0-or-later
# What one can ask make for beyond building: see `make help`.

.PHONY: demo demo-store picture hundred check check-built check-brief check-brief-built check-static check-symbols check-unit \
        check-scenario check-physics check-system check-fuzz fuzz fuzz-made fuzz-programs findings scenarios \
        bench bench-built lint lint-built format format-check clean help

# What installs packages builds in a make of its own: this one began without them.
# The + shares the jobs of make's -j with it.
NEED  = $(Q)sh tests/tools/need-packages
AGAIN = +$(Q)$(MAKE) --no-print-directory

demo: ## the simulated line, the daemon and a report, in a minute
	$(NEED) build
	$(AGAIN) all
	$(Q)EVENSOAK_BUILD=$(abspath $(OUT)) contrib/linesim/demo.sh

demo-store: ## the same, delivered to an InfluxDB
	$(NEED) build store
	$(AGAIN) all
	$(Q)EVENSOAK_BUILD=$(abspath $(OUT)) contrib/linesim/demo.sh --store

picture: demo ## the picture of the README, from the demo's shift
	$(Q)$(OUT)/evensoak report --config $(OUT)/demo/plant.ini --shift early --date 2026-03-02 \
	    --format svg --picture exit_top_c > contrib/linesim/shift.svg

hundred: ## a hundred line PCs into one InfluxDB for EVENSOAK_PLANT_S seconds (600), and what it takes
	$(NEED) build store test
	$(AGAIN) all
	$(Q)EVENSOAK_BUILD=$(abspath $(OUT)) $(PYTHON) tests/plant/hundred.py

# --- servers that the system tests start ---------------------------------------------
SERVER_PROGRAMS = $(patsubst tests/system/servers/%.c,$(OUT)/tests/system/%,$(wildcard tests/system/servers/*.c))
tests: $(SERVER_PROGRAMS)
$(OUT)/tests/system/%: $(OUT)/obj/tests/system/servers/%.o
	$(LINK)
	$(Q)$(CC) $(ALL_LDFLAGS) -o $@ $^ $(call pkglibs,$(PKG_tests/system/servers))
# Ledgers of many shots in no time, by the daemon's own writer.
FILLING = $(patsubst tests/system/filling/%.c,$(OUT)/tests/system/%,$(wildcard tests/system/filling/*.c))
tests: $(FILLING)
$(FILLING): $(OUT)/tests/system/%: $(OUT)/obj/tests/system/filling/%.o $(call archives,$(USES_tests/system/filling))
	$(LINK)
	$(Q)$(CC) $(ALL_LDFLAGS) -o $@ $^ $(call pkglibs,$(call stackpkg,tests/system/filling)) -lm

# --- checks ----------------------------------------------------------------------
COMPILE    = $(CC) -std=c17 -D_GNU_SOURCE -I. $(WARN) -Werror $(call pkgflags,$(call packages,$(LAYERS)))
RUN_CHECKS = $(Q)EVENSOAK_BUILD='$(abspath $(OUT))' UNIT_PROGRAMS='$(abspath $(UNIT_PROGRAMS))' \
    SCENARIO_PROGRAMS='$(abspath $(SCENARIO_PROGRAMS))' \
    PHYSICS_PROGRAMS='$(abspath $(PHYSICS_PROGRAMS))' \
    FUZZ_PROGRAMS='$(abspath $(FUZZ_TARGETS))' \
    PYTHON='$(PYTHON)' COMPILE='$(COMPILE)' bash tests/tools/run-checks

# libFuzzer is clang's; the targets have a tree of their own beside the others.
FUZZ_CC     ?= clang
FUZZ_OUT     = $(if $(filter fuzz,$(MODE)),$(OUT),$(OUT)/fuzz)
FUZZ_TARGETS = $(patsubst tests/fuzz/%.c,$(FUZZ_OUT)/tests/fuzz/%,$(wildcard tests/fuzz/fuzz_*.c))
FUZZ_NEED    = $(if $(filter 1,$(EVENSOAK_NO_SKIP)),fuzz)
fuzz-programs: $(FUZZ_PROGRAMS)
fuzz-made:
	+$(Q)! echo 'int LLVMFuzzerTestOneInput(void) { return 0; }' | \
	    $(FUZZ_CC) -fsanitize=fuzzer,address -x c -o /dev/null - 2>/dev/null || \
	    $(MAKE) --no-print-directory MODE=fuzz OUT=$(FUZZ_OUT) CC=$(FUZZ_CC) fuzz-programs

check: ## all of the checks below, packages included
	$(NEED) build test $(FUZZ_NEED)
	$(AGAIN) check-built

check-brief: ## what the sanitizers are for: `make MODE=asan check-brief`
	$(NEED) build test
	$(AGAIN) check-brief-built
check-brief-built: all tests
	$(RUN_CHECKS) symbols unit scenario brief
check-built: all tests fuzz-made
	$(RUN_CHECKS) static symbols unit scenario physics fuzz system
check-static: ## who includes whom, headers alone, what the source may not say
	$(RUN_CHECKS) static
check-symbols: all ## what the pure parts and the programs may not need
	$(RUN_CHECKS) symbols
check-unit: tests ## the unit tests
	$(RUN_CHECKS) unit
check-scenario: tests ## every kind of machine with all that goes wrong, 20 seeds each
	$(RUN_CHECKS) scenario
check-physics: tests ## what is computed against a simulated plant: core, water, findings
	$(RUN_CHECKS) physics
check-fuzz: fuzz-made ## bytes made up for whatever parses foreign ones, where there is a clang
	$(RUN_CHECKS) fuzz
fuzz: ## the same for EVENSOAK_FUZZ_S seconds (60) a target, each time others
	$(NEED) build test fuzz
	$(AGAIN) fuzz-made
	$(Q)FUZZ_PROGRAMS='$(FUZZ_TARGETS)' bash tests/tools/run-fuzz
findings: ## every fault at three strengths for EVENSOAK_SEEDS seeds (20), and false alarms
	$(NEED) build test
	$(AGAIN) $(OUT)/tests/physics/matrix
	$(Q)$(abspath $(OUT))/tests/physics/matrix
scenarios: tests ## every kind of machine for EVENSOAK_SEEDS seeds (200), from EVENSOAK_SEED on
	$(Q)set -e; export EVENSOAK_SEEDS=$${EVENSOAK_SEEDS:-200}; \
	    for program in $(SCENARIO_PROGRAMS); do $$program; done
# Where threads meet: pollers, queue, filing, delivery, notices; the system tests are whole daemons.
THREADED = $(patsubst %,$(OUT)/tests/unit/%,daemon/fieldbus/test_link_tcp daemon/fieldbus/test_poller_groups \
    daemon/fieldbus/test_poller_serial daemon/notify/test_notifier daemon/publish/test_publisher \
    daemon/run/test_buses daemon/run/test_filing daemon/run/test_filing_beside daemon/run/test_filing_told \
    daemon/run/test_inspection daemon/run/test_logger daemon/run/test_queue cli/command/test_progress)
.PHONY: check-threads
check-threads: UNIT_PROGRAMS = $(THREADED)
check-threads: all $(THREADED) $(FILLING) ## `make MODE=tsan check-threads`: no two threads at one thing
	$(RUN_CHECKS) unit threads
check-system: all $(SERVER_PROGRAMS) $(FILLING) ## whole programs, real buses, real stores
	$(RUN_CHECKS) system

bench: ## measured figures, each beside what it is held against
	$(NEED) build test
	$(AGAIN) bench-built
bench-built: all $(BENCH_PROGRAMS) $(FILLING)
	$(Q)set -e; for program in $(BENCH_PROGRAMS); do EVENSOAK_BUILD=$(abspath $(OUT)) $$program; done

# --- the look of the source ----------------------------------------------------------
LINTED = $(filter %.c,$(filter-out tests/%,$(FORMATTED)))
lint: ## clang-tidy, cppcheck, and systemd on its unit
	$(NEED) build lint
	$(AGAIN) lint-built
lint-built:
	$(Q)printf '%s\n' $(LINTED) | xargs -P $$(nproc) -I FILE clang-tidy --quiet FILE -- -std=c17 -D_GNU_SOURCE \
	    -I. $(TOLD) $(call pkgflags,$(call packages,$(LAYERS))) 2>/dev/null
	$(Q)cppcheck --quiet --error-exitcode=1 --std=c11 --inline-suppr -I. -D_GNU_SOURCE \
	    --enable=warning,performance,portability --suppress=missingIncludeSystem \
	    --suppress=ignoredReturnValue $(LINTED)
	$(Q)sh tests/tools/check-service
format: ## clang-format, in place
	$(NEED) lint
	$(Q)clang-format -i $(FORMATTED)
format-check: ## whether `make format` would change anything
	$(NEED) lint
	$(Q)clang-format --dry-run --Werror $(FORMATTED)

clean: ## remove everything made
	rm -rf build

help: ## this list
	@sed -nE 's/^([a-z-]+):[^#]*## (.*)/\1\t\2/p' $(MAKEFILE_LIST) | awk -F'\t' '{printf "  make %-14s %s\n", $$1, $$2}'
	@echo "  MODE=release|debug|asan|tsan|fuzz|coverage  V=1 (show commands)  WERROR=1"
