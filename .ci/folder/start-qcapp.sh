#!/bin/sh
# Starts the yard in a terminal, so that what it says can be read and it can be stopped there.
# With the shell alone: a small system may have no other tools.
case $0 in */*) here=${0%/*} ;; *) here=. ;; esac
here=$(CDPATH= cd -- "$here" && pwd)
for terminal in x-terminal-emulator gnome-terminal konsole xfce4-terminal xterm; do
    if [ ! -t 1 ] && command -v "$terminal" >/dev/null 2>&1; then
        case $terminal in
            gnome-terminal) exec "$terminal" -- "$here/qcapp" "$@" ;;
            *) exec "$terminal" -e "$here/qcapp" ;;
        esac
    fi
done
exec "$here/qcapp" "$@"
