#!/usr/bin/env bash
# Makes the Debian packages of program and library on Debian 12, installing what is missing.
# Usage: bash cli/package/deb.sh     they go to build/release/packages
set -Eeuo pipefail
trap 'echo "cli/package/deb.sh stopped at line $LINENO." >&2' ERR

cd "$(dirname "${BASH_SOURCE[0]}")/../.."
source tests/packages.sh
install_missing "${build_packages[@]}" "${deb_packages[@]}"
cmake --preset release --log-level=WARNING
cmake --build --preset release --target heapcast -j "$(nproc)"
cpack --preset deb
ls -l build/release/packages/*.deb
