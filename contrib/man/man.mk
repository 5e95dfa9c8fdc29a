# SPDX-License-Identifier: GPL-3.0-or-later
# The manual and the completion of shells, made from the tables of the programs.

.PHONY: man manual completion lint-man

# --- pages: what people wrote, with what the tables say in their places ---------------
MANUAL_TOOL    = $(OUT)/contrib/man/manual
MAN_TEMPLATES  = $(wildcard contrib/man/*.[1-8].in)
MAN_WRITTEN    = $(wildcard contrib/man/*.[1-8])
man_page       = $(OUT)/man/man$(patsubst .%,%,$(suffix $(1)))/$(notdir $(1))
MANPAGES_MADE  = $(foreach p,$(MAN_TEMPLATES:.in=) $(MAN_WRITTEN),$(call man_page,$(p)))

$(MANUAL_TOOL): $(call objects,$(call sources,contrib/man)) $(call archives,$(USES_contrib/man))
	$(LINK)
	$(Q)$(CC) $(ALL_LDFLAGS) -o $@ $^ $(call pkglibs,$(call stackpkg,contrib/man)) -lm

define MAN_template
$(call man_page,$(1:.in=)): $(1) $(if $(filter %.in,$(1)),$(MANUAL_TOOL))
	@mkdir -p $$(@D); [ $(V) = 1 ] || echo "  MAN   $$@"
	$(Q)$(if $(filter %.in,$(1)),$(MANUAL_TOOL) $$<,cat $$<) > $$@
endef
$(foreach p,$(MAN_TEMPLATES) $(MAN_WRITTEN),$(eval $(call MAN_template,$(p))))

man: $(MANPAGES_MADE) ## the manual: man -M build/man evensoak

# Of other pages mandoc knows those of the system alone.
lint-built: lint-man
lint-man: $(MANPAGES_MADE)
	$(Q)! mandoc -T lint $^ 2>/dev/null | grep -v 'referenced manual not found'

# --- the same for reading on a desk: each page whole, with its style in it ---------------
HTML_PAGES = $(foreach p,$(MANPAGES_MADE),$(OUT)/manual/$(notdir $(p)).html)
define HTML_template
$(OUT)/manual/$(notdir $(1)).html: $(1) contrib/man/manual.css
	@mkdir -p $$(@D); [ $(V) = 1 ] || echo "  HTML  $$@"
	$(Q)mandoc -I os=evensoak -T html -O toc,man=%N.%S.html $$< | sed '/<style>/r contrib/man/manual.css' > $$@
endef
$(foreach p,$(MANPAGES_MADE),$(eval $(call HTML_template,$(p))))

manual: ## the manual as HTML, one file a page, in build/manual/
	$(NEED) build manual
	$(AGAIN) $(HTML_PAGES)

# --- completion of shells -------------------------------------------------------------------
COMPLETION_TOOL  = $(OUT)/contrib/completion/completion
COMPLETIONS_MADE = $(addprefix $(OUT)/completion/,evensoak evensoakd _evensoak _evensoakd)

$(COMPLETION_TOOL): $(call objects,$(call sources,contrib/completion) contrib/man/template.c) \
    $(call archives,$(filter-out contrib/man,$(USES_contrib/completion)))
	$(LINK)
	$(Q)$(CC) $(ALL_LDFLAGS) -o $@ $^ $(call pkglibs,$(call stackpkg,contrib/completion)) -lm

COMPLETE = @mkdir -p $(@D); [ $(V) = 1 ] || echo "  SHELL $@"
$(OUT)/completion/_%: contrib/completion/%.zsh.in $(COMPLETION_TOOL)
	$(COMPLETE)
	$(Q)$(COMPLETION_TOOL) $< > $@
$(OUT)/completion/%: contrib/completion/%.bash.in $(COMPLETION_TOOL)
	$(COMPLETE)
	$(Q)$(COMPLETION_TOOL) $< > $@

completion: $(COMPLETIONS_MADE) ## what bash and zsh complete: build/completion/

# The tests hold both against what the programs say.
tests check-system: $(MANPAGES_MADE) $(COMPLETIONS_MADE)

# Their unit tests link what both tools are made of.
$(OUT)/tests/unit/contrib/man/%: $(OUT)/obj/tests/unit/contrib/man/%.o \
    $(filter-out %/main.o,$(call objects,$(call sources,contrib/man))) $(call archives,$(USES_contrib/man))
	$(LINK)
	$(Q)$(CC) $(ALL_LDFLAGS) -o $@ $^ $(call pkglibs,cmocka $(call stackpkg,contrib/man)) -lm
