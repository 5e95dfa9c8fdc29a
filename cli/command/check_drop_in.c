/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/check_drop_in.h"

#include <arpa/inet.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>

#include "conf/settings.h"
#include "daemon/base/text.h"

struct network {
	struct text allowed;
	char name[SETTINGS_PATH]; /* the first that hinders it; "": none */
};

/* Once, however many hang on it. */
static void
allow(struct network *network, const char *host)
{
	unsigned char address[sizeof(struct in6_addr)];
	char line[SETTINGS_PATH + 20];

	if (inet_pton(AF_INET, host, address) == 1 ||
	    inet_pton(AF_INET6, host, address) == 1) {
		snprintf(line, sizeof line, "IPAddressAllow=%s\n", host);
		if (!network->allowed.bytes || !strstr(network->allowed.bytes, line))
			text_puts(&network->allowed, line);
	} else if (strcmp(host, "localhost") != 0 && !*network->name) {
		text_copy(network->name, sizeof network->name, host);
	}
}

/* The host of http://HOST:PORT/PATH, where it may stand in brackets. */
static void
allow_url(struct network *network, const char *url)
{
	const char *at = strstr(url, "://");
	char host[SETTINGS_PATH];

	if (!at)
		return;
	at += at[3] == '[' ? 4 : 3;
	text_copy(host, sizeof host, at);
	host[strcspn(host, at[-1] == '[' ? "]" : ":/?#")] = '\0';
	allow(network, host);
}

static void
add_network(const struct settings *settings, struct text *text)
{
	struct network network = {.name = ""};

	text_init(&network.allowed, 1 << 16);
	for (size_t i = 0; i < settings->bus_count; i++)
		if (settings->buses[i].kind == BUS_TCP)
			allow(&network, settings->buses[i].host);
	for (size_t i = 0; i < settings->store_count; i++) {
		allow_url(&network, settings->stores[i].url);
		/* There it looks whether what it sent has been kept. */
		allow_url(&network, settings->stores[i].query_url);
	}
	if (*network.name) {
		text_printf(text,
		    "# '%s' is a name, which may come to stand for any address: all "
		    "stay "
		    "allowed.\n",
		    network.name);
	} else {
		text_puts(text, "IPAddressDeny=any\nIPAddressAllow=localhost\n");
		if (network.allowed.length > 0)
			text_puts(text, network.allowed.bytes);
	}
	text->failed |= network.allowed.failed;
	text_release(&network.allowed);
}

static void
add_port(const char *path, struct text *text)
{
	struct stat status;

	if (stat(path, &status) != 0 || !S_ISCHR(status.st_mode))
		text_printf(text,
		    "# %s is not there now: plug it in, and make this anew.\n", path);
	else
		text_printf(text, "# %s\nDeviceAllow=/dev/char/%u:%u rw\n", path,
		    major(status.st_rdev), minor(status.st_rdev));
}

/* Without a serial line the unit's PrivateDevices= allows none. */
static void
add_ports(const struct settings *settings, struct text *text)
{
	bool any = false;

	for (size_t i = 0; i < settings->bus_count; i++) {
		if (settings->buses[i].kind != BUS_SERIAL)
			continue;
		if (!any)
			text_puts(text, "PrivateDevices=no\nDevicePolicy=closed\n");
		any = true;
		add_port(settings->buses[i].path, text);
	}
	if (any)
		text_puts(text, "# Debian gives the ports to this group, which must be "
				"known inside.\n"
				"SupplementaryGroups=dialout\nPrivateUsers=no\n");
}

void
check_drop_in_add(const struct settings *settings, struct text *text)
{
	text_printf(text,
	    "# Made by 'evensoak check --drop-in' of %s: what the logger may reach.\n"
	    "# To be made anew when addresses or ports change, see evensoak check "
	    "--help.\n"
	    "[Service]\n",
	    settings->path);
	add_network(settings, text);
	if (*settings->notify.program)
		text_puts(
		    text, "# The program of [notify] reaches no more than this.\n");
	add_ports(settings, text);
}
