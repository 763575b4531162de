# The Debian packages that the project needs, and a function that installs what is missing.
# Sourced by examples/run.sh, tests/run.sh and cli/package/deb.sh; the only place where a package is named.

# To build and run heapcast.
build_packages=(
  ccache cmake g++ ninja-build pkg-config
  libboost-dev libcli11-dev libeigen3-dev libfmt-dev libhdf5-dev libsuitesparse-dev libjs-chart.js libkainjow-mustache-dev
  libmuparser-dev libtomlplusplus-dev nlohmann-json3-dev
)

# Also to test it: test libraries, an independent solver, readers of the results file, a browser
# for the report, a setter for the manual page, a shell, and the style tools.
test_packages=(
  libbenchmark-dev libgmock-dev libgtest-dev libsundials-dev
  hdf5-tools netcdf-bin
  libopenmpi-dev openmpi-bin
  python3-h5netcdf python3-matplotlib python3-netcdf4 python3-numpy python3-scipy python3-xarray
  chromium
  groff-base zsh
  clang-format clang-tidy git
  clang-14 libclang-rt-14-dev llvm-14
  liblapack-dev libpython3.11 python3-iapws python3-jsonschema
)

# Also to make Debian packages of it: cli/package/deb.sh.
deb_packages=(dpkg-dev file)

# Installs those of the named packages that are missing. Asks the network for nothing when none is.
install_missing() {
  if ! command -v dpkg-query >/dev/null; then
    echo "This is not a Debian system: install the counterparts of these packages, then build with" >&2
    echo "cmake --preset release && cmake --build --preset release" >&2
    printf '  %s\n' "$*" >&2
    return 1
  fi
  local installed name missing=()
  # dpkg-query fails when it does not know one of the names.
  installed=" $(dpkg-query -W -f '${db:Status-Status}:${Package} ' "$@" 2>/dev/null || true) "
  for name in "$@"; do
    [[ $installed == *" installed:$name "* ]] || missing+=("$name")
  done
  ((${#missing[@]})) || return 0

  local as_root=()
  if ((EUID != 0)); then
    if ! command -v sudo >/dev/null; then
      echo "Missing packages, and no sudo to install them. As root, run:" >&2
      echo "  apt-get update && apt-get install ${missing[*]}" >&2
      return 1
    fi
    as_root=(sudo)
  fi
  echo "Installing ${missing[*]}"
  "${as_root[@]}" apt-get update -q </dev/null &&
    "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive \
      apt-get install -q -y --no-install-recommends "${missing[@]}" </dev/null
}
