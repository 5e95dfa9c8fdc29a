# SPDX-License-Identifier: GPL-3.0-or-later
# A clean Debian 12 in a folder, made by debootstrap and booted by systemd-nspawn: sourced by
# check-package.  It shares the network of this machine and nothing else.

leader='' nspawn=''

# root_make FOLDER: from the mirror that this machine uses, with this machine's way to it.
root_make() {
	local mirror
	mirror=$(sed -n 's/^URIs: *//p' /etc/apt/sources.list.d/debian.sources 2>/dev/null | head -n 1)
	[ -n "$mirror" ] || mirror=$(awk '$1 == "deb" { for (i = 2; i <= NF; i++)
		if ($i ~ /:\/\//) { print $i; exit } }' /etc/apt/sources.list)
	debootstrap --include=dbus,sudo bookworm "$1" "$mirror" || return 1
	cp -R /etc/apt/apt.conf.d "$1/etc/apt/"
	if [ -e /etc/apt/sources.list.d/debian.sources ]; then
		cp /etc/apt/sources.list.d/debian.sources "$1/etc/apt/sources.list.d/"
		: >"$1/etc/apt/sources.list"
	else
		cp /etc/apt/sources.list "$1/etc/apt/"
	fi
	cp -L /etc/resolv.conf /etc/hosts "$1/etc/"
}

# root_boot FOLDER: until its systemd says that it is up.
root_boot() {
	local tries=120
	systemd-nspawn --directory="$1" --register=no --keep-unit --resolv-conf=off --console=pipe \
		--boot </dev/null >"$1.console" 2>&1 &
	nspawn=$!
	while [ $tries -gt 0 ] && kill -0 $nspawn 2>/dev/null; do
		leader=$(pgrep -P $nspawn | head -n 1)
		case $([ -z "$leader" ] || inside systemctl is-system-running 2>/dev/null) in
		running | degraded) return 0 ;;
		esac
		tries=$((tries - 1))
		sleep 0.5
	done
	return 1
}

# inside COMMAND...: as root in the booted system.
inside() {
	nsenter --target "$leader" --mount --uts --ipc --net --pid --cgroup --root --wd -- \
		/usr/bin/env --chdir=/root -i PATH=/usr/sbin:/usr/bin:/sbin:/bin HOME=/root LANG=C.UTF-8 \
		DEBIAN_FRONTEND=noninteractive "$@"
}

# Asks it to power off, and waits.
root_stop() {
	[ -z "$nspawn" ] || kill -0 "$nspawn" 2>/dev/null || nspawn=''
	[ -n "$nspawn" ] || return 0
	kill -TERM "$nspawn"
	wait "$nspawn"
	nspawn=''
}
