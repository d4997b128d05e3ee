#!/bin/sh
# Starts the yard in a terminal, so that what it says can be read and it can be stopped there.
here=$(CDPATH= cd -- "$(dirname -- "$0")" && pwd)
for terminal in x-terminal-emulator gnome-terminal konsole xfce4-terminal xterm; do
    if [ ! -t 1 ] && command -v "$terminal" >/dev/null 2>&1; then
        case $terminal in
            gnome-terminal) exec "$terminal" -- "$here/qcapp" "$@" ;;
            *) exec "$terminal" -e "$here/qcapp" ;;
        esac
    fi
done
exec "$here/qcapp" "$@"
