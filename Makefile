# SPDX-License-Identifier: GPL-3.0-or-later
# evensoak: build, try, check, install.  `make help` lists what there is.

VERSION     = 0.1.0
PREFIX      ?= /usr/local
BINDIR      ?= $(PREFIX)/bin
SBINDIR     ?= $(PREFIX)/sbin
DATADIR     ?= $(PREFIX)/share/evensoak
UNITDIR     ?= $(PREFIX)/lib/systemd/system
SYSCONFDIR  ?= /etc
DESTDIR     ?=
ifeq ($(origin CC),default)
CC          = $(if $(filter fuzz,$(MODE)),clang,gcc)
endif
PKG_CONFIG  ?= pkg-config
PYTHON      ?= /usr/bin/python3
MODE        ?= release
WERROR      ?= 0
V           ?= 0

# Everything made lives under build/; each MODE has a tree of its own.
OUT := $(if $(filter release,$(MODE)),build,build/$(MODE))
Q   := $(if $(filter 1,$(V)),,@)

# --- the layers: a folder, what it may use (highest first), what it links -----
# tests/tools/check-includes reads these lines: they are the rule, not a copy of it.
LAYERS = daemon/base conf daemon/heat daemon/shot daemon/fieldbus daemon/ledger \
         daemon/publish daemon/notify daemon/run cli/source cli/stats cli/findings cli/csv cli/picture cli/page \
         cli/population cli/wording cli/report cli/command
USES_daemon/base     =
USES_conf            = daemon/base
USES_daemon/heat     = conf daemon/base
USES_daemon/shot     = daemon/heat conf daemon/base
USES_daemon/fieldbus = conf daemon/base
USES_daemon/ledger   = daemon/shot daemon/heat conf daemon/base
USES_daemon/publish  = daemon/ledger daemon/shot daemon/heat conf daemon/base
USES_daemon/notify   = daemon/ledger daemon/shot daemon/heat conf daemon/base
USES_daemon/run      = daemon/notify daemon/publish daemon/ledger daemon/fieldbus daemon/shot daemon/heat conf daemon/base
USES_cli/source      = daemon/publish daemon/ledger daemon/shot daemon/heat conf daemon/base
USES_cli/stats       = daemon/base
USES_cli/findings    = cli/stats conf daemon/base
USES_cli/picture     = cli/stats daemon/base
USES_cli/csv         = conf daemon/base
USES_cli/page        = cli/picture cli/stats daemon/base
USES_cli/population  = cli/stats cli/source daemon/publish daemon/ledger daemon/shot daemon/heat conf daemon/base
USES_cli/wording     = cli/population cli/page cli/picture cli/stats cli/source daemon/publish daemon/ledger \
                       daemon/shot daemon/heat conf daemon/base
USES_cli/report      = cli/wording cli/population cli/page cli/picture cli/stats cli/source daemon/publish \
                       daemon/ledger daemon/shot daemon/heat conf daemon/base
USES_cli/command     = cli/report cli/wording cli/population cli/page cli/picture cli/csv cli/findings cli/stats cli/source daemon/fieldbus \
                       daemon/publish daemon/ledger daemon/shot daemon/heat conf daemon/base
USES_contrib/linesim = daemon/base
USES_contrib/man     = cli/command cli/report cli/wording cli/population cli/page cli/picture cli/csv cli/findings cli/stats cli/source \
                       daemon/run daemon/notify daemon/fieldbus daemon/publish daemon/ledger daemon/shot daemon/heat conf daemon/base
USES_contrib/completion = contrib/man cli/command cli/report cli/wording cli/population cli/page cli/picture cli/csv cli/findings cli/stats cli/source \
                       daemon/run daemon/notify daemon/fieldbus daemon/publish daemon/ledger daemon/shot daemon/heat conf daemon/base
USES_tests/scenario  = contrib/linesim daemon/shot daemon/heat conf daemon/base
USES_tests/physics   = contrib/linesim cli/findings cli/stats daemon/shot daemon/heat conf daemon/base
USES_tests/fuzz      = cli/command cli/page cli/picture cli/csv cli/stats cli/source daemon/run daemon/notify daemon/publish daemon/ledger daemon/fieldbus daemon/shot daemon/heat conf daemon/base
USES_tests/system/servers =
USES_tests/system/filling = daemon/ledger daemon/shot daemon/heat conf daemon/base
USES_tests/bench     = cli/stats daemon/run daemon/notify daemon/publish daemon/ledger daemon/fieldbus daemon/shot daemon/heat conf daemon/base

PKG_daemon/base     =
PKG_conf            = inih
PKG_daemon/heat     = gsl
PKG_daemon/shot     = gsl zlib
PKG_daemon/fieldbus = libmodbus
PKG_daemon/ledger   = sqlite3 zlib
PKG_daemon/publish  = libcurl zlib
PKG_cli/source      = jansson
PKG_cli/stats       = gsl
PKG_cli/picture     = cairo
PKG_contrib/man     = sqlite3
PKG_tests/fuzz      = expat
PKG_tests/system/servers = libmodbus

# --- flags ---------------------------------------------------------------------
WARN = -Wall -Wextra -Wpedantic -Wshadow -Wconversion -Wstrict-prototypes \
       -Wmissing-prototypes -Wpointer-arith -Wcast-qual -Wwrite-strings -Wvla \
       -Wundef -Wformat=2 -Wswitch-enum -Wnull-dereference
ifeq ($(WERROR),1)
WARN += -Werror
endif
# What Debian's dpkg-buildflags gives with hardening=+all, the stack clash, and guarded jumps
# for C libraries that are made so.
FLOW := $(if $(filter x86_64%,$(shell $(CC) -dumpmachine 2>/dev/null)),-fcf-protection)
HARDEN = -fstack-protector-strong -fstack-clash-protection $(FLOW) -Werror=format-security
FORTIFY = $(if $(findstring _FORTIFY_SOURCE,$(CPPFLAGS) $(CFLAGS)),,-D_FORTIFY_SOURCE=2)
OPT_release  = -O2 -g $(HARDEN) $(FORTIFY)
OPT_debug    = -O0 -g3
OPT_asan     = -O1 -g -fno-omit-frame-pointer -fsanitize=address,undefined -fno-sanitize-recover=undefined
OPT_fuzz     = -O1 -g -fno-omit-frame-pointer -fsanitize=fuzzer-no-link,address,undefined \
               -fno-sanitize-recover=undefined -Wno-string-conversion -Wno-missing-field-initializers
OPT_tsan     = -O1 -g -fsanitize=thread
OPT_coverage = -O0 -g --coverage
ifeq ($(OPT_$(MODE)),)
$(error MODE=$(MODE) is not known: say release, debug, asan, tsan, fuzz or coverage)
endif
# Asked in recipes only: on a fresh machine pkg-config comes with `make packages`.
packages = $(sort $(foreach l,$(1),$(PKG_$(l))))
pkgflags = $(if $(strip $(1)),$(shell $(PKG_CONFIG) --cflags $(1)))
pkglibs  = $(if $(strip $(1)),$(shell $(PKG_CONFIG) --libs $(1)))
TOLD     = -DEVENSOAK_VERSION='"$(VERSION)"' -DEVENSOAK_EXAMPLES='"$(DATADIR)/examples"'
CFLAGS  ?=
LDFLAGS ?=
ALL_CFLAGS  = -std=c17 -D_GNU_SOURCE -I. $(WARN) $(OPT_$(MODE)) -fPIE -pthread \
              $(TOLD) $(CPPFLAGS) $(CFLAGS)
ALL_LDFLAGS = -pie -pthread -Wl,-z,relro -Wl,-z,now -Wl,--as-needed $(OPT_$(MODE)) $(LDFLAGS)

# --- what there is ---------------------------------------------------------------
sources = $(wildcard $(1)/*.c)
objects = $(patsubst %.c,$(OUT)/obj/%.o,$(1))
archive = $(OUT)/lib/$(subst /,-,$(1)).a
archives = $(foreach l,$(1),$(if $(call sources,$(l)),$(call archive,$(l))))
# The archives that a piece of layer $(1) links, itself first, and their packages.
stack    = $(call archives,$(1) $(USES_$(1)))
stackpkg = $(call packages,$(1) $(USES_$(1)))
# The packages that a folder's sources may include: a test's, all that it links.
folder   = $(patsubst %/,%,$(dir $(1)))
tested   = $(patsubst tests/unit/%,%,$(filter tests/%,$(1)))
pkgs_of  = $(if $(filter tests/%,$(1)),cmocka $(call stackpkg,$(call tested,$(1))),$(PKG_$(1)))

PROGRAMS = $(OUT)/evensoakd $(OUT)/evensoak $(OUT)/linesim
UNIT_SOURCES  = $(wildcard tests/unit/*/test_*.c tests/unit/*/*/test_*.c)
UNIT_PROGRAMS = $(patsubst tests/unit/%.c,$(OUT)/tests/unit/%,$(UNIT_SOURCES))
SCENARIO_PROGRAMS = $(patsubst tests/%.c,$(OUT)/tests/%,$(wildcard tests/scenario/test_*.c))
PHYSICS_PROGRAMS = $(patsubst tests/%.c,$(OUT)/tests/%,$(wildcard tests/physics/test_*.c))
BENCH_PROGRAMS = $(patsubst tests/bench/%.c,$(OUT)/tests/bench/%,$(wildcard tests/bench/*.c))
FUZZ_PROGRAMS = $(patsubst tests/fuzz/%.c,$(OUT)/tests/fuzz/%,$(wildcard tests/fuzz/fuzz_*.c))
FORMATTED = $(shell git ls-files '*.c' '*.h' 2>/dev/null)

.DEFAULT_GOAL := all
.PHONY: all tests FORCE
.SECONDARY:
.DELETE_ON_ERROR:

all: $(PROGRAMS) ## build the two programs and the simulated line
tests: $(UNIT_PROGRAMS) $(SCENARIO_PROGRAMS) $(PHYSICS_PROGRAMS) ## build the tests

# Rebuild when the flags change; -Werror changes no object.
$(OUT)/flags: export FLAGS = $(CC) $(filter-out -Werror,$(ALL_CFLAGS)) $(ALL_LDFLAGS)
$(OUT)/flags: FORCE
	@mkdir -p $(@D); echo "$$FLAGS" | cmp -s - $@ || echo "$$FLAGS" > $@

$(OUT)/obj/%.o: %.c $(OUT)/flags
	@mkdir -p $(@D); [ $(V) = 1 ] || echo "  CC    $<"
	$(Q)$(CC) $(ALL_CFLAGS) $(call pkgflags,$(call pkgs_of,$(call folder,$<))) -MMD -MP -c -o $@ $<

define LAYER_template
$(call archive,$(1)): $(call objects,$(call sources,$(1)))
	@mkdir -p $$(@D)
	$(Q)rm -f $$@; ar rcs $$@ $$^
endef
$(foreach l,$(LAYERS),$(eval $(call LAYER_template,$(l))))

LINK = @mkdir -p $(@D); [ $(V) = 1 ] || echo "  LINK  $@"
$(OUT)/evensoakd: $(OUT)/obj/daemon/main.o $(call stack,daemon/run)
	$(LINK)
	$(Q)$(CC) $(ALL_LDFLAGS) -o $@ $^ $(call pkglibs,$(call stackpkg,daemon/run)) -lm
$(OUT)/evensoak: $(OUT)/obj/cli/main.o $(call stack,cli/command)
	$(LINK)
	$(Q)$(CC) $(ALL_LDFLAGS) -o $@ $^ $(call pkglibs,$(call stackpkg,cli/command)) -lm
$(OUT)/linesim: $(call objects,$(call sources,contrib/linesim)) $(call stack,daemon/base)
	$(LINK)
	$(Q)$(CC) $(ALL_LDFLAGS) -o $@ $^ -lm

# A unit test, tests/unit/LAYER/test_*.c, links that layer, what it may use, and
# whatever else stands beside it.
helpers = $(call objects,$(filter-out tests/unit/$(1)/test_%,$(call sources,tests/unit/$(1))))
define TEST_template
$(OUT)/tests/unit/$(1)/%: $(OUT)/obj/tests/unit/$(1)/%.o $(call helpers,$(1)) $(call stack,$(1))
	$$(LINK)
	$(Q)$(CC) $$(ALL_LDFLAGS) -o $$@ $$^ $$(call pkglibs,cmocka $$(call stackpkg,$(1))) -lm
endef
$(foreach l,$(LAYERS),$(eval $(call TEST_template,$(l))))
$(OUT)/tests/unit/contrib/linesim/%: $(OUT)/obj/tests/unit/contrib/linesim/%.o \
    $(filter-out %/main.o,$(call objects,$(call sources,contrib/linesim))) $(call stack,daemon/base)
	$(LINK)
	$(Q)$(CC) $(ALL_LDFLAGS) -o $@ $^ $(call pkglibs,cmocka) -lm

# The simulated machine and the tracker meet in the scenarios, and only there.
$(OUT)/tests/scenario/%: $(OUT)/obj/tests/scenario/%.o \
    $(call objects,$(filter-out tests/scenario/test_%,$(call sources,tests/scenario))) \
    $(filter-out %/main.o,$(call objects,$(call sources,contrib/linesim))) $(call stack,daemon/shot)
	$(LINK)
	$(Q)$(CC) $(ALL_LDFLAGS) -o $@ $^ $(call pkglibs,cmocka $(call stackpkg,daemon/shot)) -lm

# The simulated plant, the tracker and the findings meet here; matrix.c is a program too.
PHYSICS_HELPERS = $(filter-out tests/physics/test_% tests/physics/matrix.c,$(call sources,tests/physics))
$(OUT)/tests/physics/%: $(OUT)/obj/tests/physics/%.o $(call objects,$(PHYSICS_HELPERS)) \
    $(filter-out %/main.o,$(call objects,$(call sources,contrib/linesim))) \
    $(call archives,$(filter-out contrib/linesim,$(USES_tests/physics)))
	$(LINK)
	$(Q)$(CC) $(ALL_LDFLAGS) -o $@ $^ $(call pkglibs,cmocka $(call stackpkg,tests/physics)) -lm

$(OUT)/tests/bench/%: $(OUT)/obj/tests/bench/%.o $(call archives,$(USES_tests/bench))
	$(LINK)
	$(Q)$(CC) $(ALL_LDFLAGS) -o $@ $^ $(call pkglibs,$(call stackpkg,tests/bench)) -lm

# With MODE=fuzz alone: whatever parses bytes that come from elsewhere (clang's libFuzzer), and
# whatever shows them.  Of the commands the options alone.
$(OUT)/tests/fuzz/%: $(OUT)/obj/tests/fuzz/%.o $(OUT)/obj/cli/command/option.o \
    $(call archives,$(filter-out cli/command,$(USES_tests/fuzz)))
	$(LINK)
	$(Q)$(CC) $(ALL_LDFLAGS) -fsanitize=fuzzer -o $@ $^ $(call pkglibs,$(call stackpkg,tests/fuzz)) -lm

-include $(shell find $(OUT)/obj -name '*.d' 2>/dev/null)

include tests/tools/targets.mk
include tests/years/years.mk
include contrib/man/man.mk
include tests/reference/validation.mk
# Last: it installs what the others make.
include contrib/packaging/install.mk
