#!/usr/bin/env bash
# The udev rule on made-up boards: udevadm test reads a /sys of plain files, in a mount namespace of its own. Needs no hardware and no root.
#   udev_rule_test.sh RULE_FILE      exit 77: this machine allows no such namespace
set -euo pipefail
rule=$(realpath "${1:?usage: udev_rule_test.sh RULE_FILE}")

if [ "${2:-}" != inside ]; then
  unshare --user --map-root-user --mount true 2>/dev/null || { echo "skipped: no user and mount namespaces here"; exit 77; }
  exec unshare --user --map-root-user --mount bash "$0" "$rule" inside
fi

here=$(mktemp -d)
trap 'rm -rf "$here"' EXIT
sys=$here/sys port=devices/pci0000:00/0000:00:14.0/usb1/1-2
failures=0

# board VENDOR PRODUCT SERIAL NODE: a USB device with one serial port. SERIAL may be empty.
board() {
  rm -rf "$sys"
  local usb=$sys/$port tty=$sys/$port/1-2:1.0/tty/$4
  mkdir -p "$tty" "$sys/bus/usb" "$sys/bus/pci" "$sys/class/tty"
  printf 'DRIVER=xhci_hcd\n' >"$sys/devices/pci0000:00/0000:00:14.0/uevent"
  ln -s "$sys/bus/pci" "$sys/devices/pci0000:00/0000:00:14.0/subsystem"
  printf 'DEVTYPE=usb_device\n' >"$usb/uevent"
  echo "$1" >"$usb/idVendor" && echo "$2" >"$usb/idProduct"
  [ -z "$3" ] || echo "$3" >"$usb/serial"
  ln -s "$sys/bus/usb" "$usb/subsystem"
  printf 'DEVTYPE=usb_interface\n' >"$usb/1-2:1.0/uevent"
  echo 00 >"$usb/1-2:1.0/bInterfaceNumber" && echo 02 >"$usb/1-2:1.0/bInterfaceClass"
  ln -s "$sys/bus/usb" "$usb/1-2:1.0/subsystem"
  printf 'MAJOR=166\nMINOR=0\nDEVNAME=%s\n' "$4" >"$tty/uevent"
  echo 166:0 >"$tty/dev"
  ln -s "$sys/class/tty" "$tty/subsystem"
}

# seen PATH: what udev makes of that device.
seen() {
  SYSTEMD_DEVICE_VERIFY_SYSFS=0 SYSTEMD_LOG_LEVEL=debug timeout 30 unshare --mount bash -c '
    mount --rbind "$1" /sys && mount -t tmpfs none /run && mkdir -p /run/udev/rules.d
    cp "$2" /run/udev/rules.d/70-midstick.rules
    udevadm test --action=add "/sys/$3"' - "$sys" "$rule" "$1" 2>&1
}

# expect PATTERN / refuse PATTERN: in what was seen last.
expect() { grep -Eq -- "$1" <<<"$output" || { echo "$what: expected $1 in:"; echo "$output"; failures=$((failures + 1)); }; }
refuse() { ! grep -Eq -- "$1" <<<"$output" || { echo "$what: did not expect $1 in:"; echo "$output"; failures=$((failures + 1)); }; }

tty=$port/1-2:1.0/tty
what="board with a serial number"
board 2341 0042 7563 ttyACM3
output=$(seen "$tty/ttyACM3")
expect '^DEVNAME=/dev/ttyACM3$'
expect '^DEVLINKS=.*/dev/midstick/2341:0042:7563( |$)'
expect '^ID_MM_PORT_IGNORE=1$'
expect '70-midstick.rules:[0-9]+ GROUP [1-9]' # a group that the machine knows
expect '70-midstick.rules:[0-9]+ MODE 0660'
refuse '/dev/midstick/at-'
refuse '70-midstick.rules:[0-9]+ (Invalid|Unknown|Unexpected|Failed|.*ignoring)' # a line that udev does not understand

what="the USB device itself"
output=$(seen "$port")
expect '^ID_MM_DEVICE_IGNORE=1$'
refuse '/dev/midstick'

what="board without a serial number"
board 2341 0042 "" ttyACM3
output=$(seen "$tty/ttyACM3")
expect '^DEVLINKS=.*/dev/midstick/at-pci-0000:00:14.0-usb-0:2:1.0( |$)'
refuse '/dev/midstick/2341'

what="somebody else's device"
board 1234 5678 7563 ttyACM3
output=$(seen "$tty/ttyACM3")
expect '^DEVNAME=/dev/ttyACM3$'
refuse '/dev/midstick|ID_MM_'

exit $((failures > 0))
