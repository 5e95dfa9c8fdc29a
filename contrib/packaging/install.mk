# SPDX-License-Identifier: GPL-3.0-or-later
# What is put where on a line PC.

.PHONY: install uninstall

LIBDIR    = $(DESTDIR)$(PREFIX)/lib
EXAMPLES  = $(wildcard conf/*.ini)
MANPAGES  = $(wildcard contrib/man/*.[158])
man_of    = $(DESTDIR)$(PREFIX)/share/man/man$(patsubst .%,%,$(suffix $(1)))/$(notdir $(1))
WITH_PATHS = sed 's,@SBINDIR@,$(SBINDIR),; s,@SYSCONFDIR@,$(SYSCONFDIR),'
install: all ## programs, examples, systemd's files; DESTDIR, PREFIX, ... are heeded
	install -D -m 755 -t $(DESTDIR)$(SBINDIR) $(OUT)/evensoakd
	install -D -m 755 -t $(DESTDIR)$(BINDIR) $(OUT)/evensoak
	install -d $(DESTDIR)$(SYSCONFDIR)/evensoak
	install -D -m 644 -t $(DESTDIR)$(DATADIR)/examples $(EXAMPLES) \
	    systemd/serial-line.conf systemd/store-credential.conf
	$(foreach page,$(MANPAGES),install -D -m 644 $(page) $(call man_of,$(page));)
	install -d $(DESTDIR)$(UNITDIR) $(LIBDIR)/sysusers.d $(LIBDIR)/tmpfiles.d
	$(WITH_PATHS) systemd/evensoakd.service > $(DESTDIR)$(UNITDIR)/evensoakd.service
	$(WITH_PATHS) systemd/evensoak.sysusers > $(LIBDIR)/sysusers.d/evensoak.conf
	$(WITH_PATHS) systemd/evensoak.tmpfiles > $(LIBDIR)/tmpfiles.d/evensoak.conf

uninstall: ## what install put there; settings and ledgers stay
	rm -f $(DESTDIR)$(SBINDIR)/evensoakd $(DESTDIR)$(BINDIR)/evensoak \
	    $(DESTDIR)$(UNITDIR)/evensoakd.service $(LIBDIR)/sysusers.d/evensoak.conf \
	    $(LIBDIR)/tmpfiles.d/evensoak.conf $(foreach page,$(MANPAGES),$(call man_of,$(page)))
	rm -rf $(DESTDIR)$(DATADIR)
