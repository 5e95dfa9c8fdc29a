# SPDX-License-Identifier: GPL-3.0-or-later
# What is put where on a line PC, and the Debian package.  Every folder can be set:
# `make install PREFIX=/usr DESTDIR=root UNITDIR=/lib/systemd/system`.

.PHONY: install install-built uninstall deb check-package

MANDIR         ?= $(PREFIX)/share/man
BASHDIR        ?= $(PREFIX)/share/bash-completion/completions
ZSHDIR         ?= $(PREFIX)/share/zsh/site-functions
SYSUSERSDIR    ?= $(PREFIX)/lib/sysusers.d
TMPFILESDIR    ?= $(PREFIX)/lib/tmpfiles.d

# --- what is installed ----------------------------------------------------------------
# A row each: a file, its folder, and how it gets there (755 or 644: as it is; paths: with
# the folders put in; example: with the ledger where a line PC has it).
row      = $(1)|$(2)|$(3)
rows     = $(foreach file,$(1),$(call row,$(file),$(2),$(3)))
man_dir  = $(MANDIR)/man$(patsubst .%,%,$(suffix $(1)))
MADE     = $(MANPAGES_MADE) $(COMPLETIONS_MADE)
# Of what is made from tables, all in `install` and what there is in `install-built`.
PAGES    = $(if $(filter install-built,$(MAKECMDGOALS)),$(wildcard $(MANPAGES_MADE)),$(MANPAGES_MADE))
COMPLETIONS = $(if $(filter install-built,$(MAKECMDGOALS)),$(wildcard $(COMPLETIONS_MADE)),$(COMPLETIONS_MADE))
# What completes in zsh begins with an underscore.
complete_dir = $(if $(filter _%,$(notdir $(1))),$(ZSHDIR),$(BASHDIR))
INSTALLED = $(call row,$(OUT)/evensoakd,$(SBINDIR),755) \
    $(call row,$(OUT)/evensoak,$(BINDIR),755) \
    $(call rows,$(wildcard conf/*.ini),$(DATADIR)/examples,example) \
    $(call rows,$(wildcard systemd/*.conf),$(DATADIR)/examples,644) \
    $(call rows,$(wildcard contrib/notify/*.sh),$(DATADIR)/examples,755) \
    $(call rows,$(wildcard contrib/dashboard/*.json contrib/dashboard/*.md),$(DATADIR)/dashboard,644) \
    $(call rows,$(wildcard systemd/*.service systemd/*.timer),$(UNITDIR),paths) \
    $(call row,systemd/sysusers.d/evensoak.conf,$(SYSUSERSDIR),paths) \
    $(call row,systemd/tmpfiles.d/evensoak.conf,$(TMPFILESDIR),paths) \
    $(foreach page,$(PAGES),$(call row,$(page),$(call man_dir,$(page)),644)) \
    $(foreach made,$(COMPLETIONS),$(call row,$(made),$(call complete_dir,$(made)),644))
placed    = $(foreach row,$(INSTALLED),$(call place,$(subst |, ,$(row))))
place     = $(DESTDIR)$(word 2,$(1))/$(notdir $(word 1,$(1)))
OWN_DIRS  = $(DATADIR)/examples $(DATADIR)/dashboard $(DATADIR) $(SYSCONFDIR)/evensoak

WITH_PATHS = sed 's,@BINDIR@,$(BINDIR),; s,@SBINDIR@,$(SBINDIR),; s,@SYSCONFDIR@,$(SYSCONFDIR),'
ON_LINE_PC = sed -E 's,^(path = )ledger\.db( .*)?$$,\1/var/lib/evensoak/ledger.db,'
how_755     = install -m 755 $(1) $(2)
how_644     = install -m 644 $(1) $(2)
how_paths   = $(WITH_PATHS) $(1) >$(2) && chmod 644 $(2)
how_example = $(ON_LINE_PC) $(1) >$(2) && chmod 644 $(2)
# One row's command; the next stands on a line of its own.
define put
	$(Q)mkdir -p $(DESTDIR)$(word 2,$(1)) && $(call how_$(word 3,$(1)),$(word 1,$(1)),$(call place,$(1)))

endef

install: all $(MADE) ## programs, manual, examples, systemd's files; DESTDIR, PREFIX, ... are heeded
	$(AGAIN) install-built
	@[ -n "$(DESTDIR)" ] || echo "next: sudo systemd-sysusers && sudo systemd-tmpfiles --create &&" \
	    "sudo systemctl daemon-reload && sudo systemctl enable evensoakd evensoak-shifts.timer"
install-built:
	$(foreach row,$(INSTALLED),$(call put,$(subst |, ,$(row))))
	$(Q)mkdir -p $(DESTDIR)$(SYSCONFDIR)/evensoak

uninstall: ## what install put there; settings and ledgers stay
	$(Q)rm -f $(placed)
	$(Q)for dir in $(addprefix $(DESTDIR),$(OWN_DIRS)); do \
	    [ ! -d $$dir ] || rmdir --ignore-fail-on-non-empty $$dir; done

# --- the Debian package -----------------------------------------------------------------
deb: ## the Debian package, in build/deb/
	$(NEED) build deb
	$(Q)sh contrib/packaging/make-deb $(abspath $(OUT))/deb $(VERSION)
check-package: ## the package in a clean Debian root, from installing to the first shot (root)
	$(NEED) build deb
	$(AGAIN) all
	$(Q)EVENSOAK_BUILD=$(abspath $(OUT)) bash tests/packaging/check-package
