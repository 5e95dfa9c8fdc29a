#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
#
# An example for [notify]: mails what happened through the plant's mail server, or where
# there is none writes it into the journal.  Put in the two names below, then
#
#     sudo install -m 755 -o root -g root mail.sh /etc/evensoak/notify
#
# and in the configuration
#
#     [notify]
#     program = /etc/evensoak/notify
#
# It needs curl (apt-get install curl), which speaks to the server itself: programs that
# queue mail as another user (sendmail, exim, postfix) cannot do that from within the
# service, which gives nobody more rights than it has.
#
# What it gets: a line for each event on its input; EVENSOAK_SITE, EVENSOAK_COUNT, and of the
# first event EVENSOAK_KIND, EVENSOAK_LINE, EVENSOAK_AT (UTC) and EVENSOAK_TEXT.  Whatever is
# told stands in quotes here, always: names of devices and answers of servers are among it.
# Ending with anything but 0 means that nobody was told: the logger tries again later.
set -eu

server=''                       # such as smtp://mail.example.org
to='maintenance@example.org'
from='evensoak@example.org'

if [ -z "$server" ]; then
	exec logger -t evensoak-notify -p user.warning
fi

# A subject is one line of plain ASCII; the text below it may be more.
subject=$(printf '%s: %s' "$EVENSOAK_SITE" "$EVENSOAK_TEXT" | tr -cd ' -~' | cut -c 1-200)
{
	printf 'From: <%s>\r\nTo: <%s>\r\nSubject: %s\r\nDate: %s\r\n' \
	    "$from" "$to" "$subject" "$(LC_ALL=C date -R)"
	printf 'MIME-Version: 1.0\r\nContent-Type: text/plain; charset=utf-8\r\n'
	printf 'Content-Transfer-Encoding: 8bit\r\n\r\n'
	sed 's/$/\r/'
	printf '\r\nevensoak status on %s tells more.\r\n' "$(uname -n)"
} | curl --silent --show-error --max-time 20 --url "$server" \
    --mail-from "$from" --mail-rcpt "$to" --upload-file -
