#!/usr/bin/env bash
# A study shared by several local ranks gives the bytes of one process, also after it was killed.
# Usage: sweep_ranks.sh HEAPCAST_WITH_MPI HEAPCAST STUDY.toml
set -Eeuo pipefail
trap 'echo "sweep_ranks.sh stopped at line $LINENO." >&2' ERR

with_mpi=$1 alone=$2 study=$3
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
export OMPI_ALLOW_RUN_AS_ROOT=1 OMPI_ALLOW_RUN_AS_ROOT_CONFIRM=1
few_days=(--set run.days=3 --quiet)

ranks() { # NUMBER OUTPUT
  mpirun --oversubscribe -n "$1" "$with_mpi" sweep "$study" -o "$2" "${few_days[@]}"
}

"$alone" sweep "$study" -o "$folder/whole.h5" "${few_days[@]}"
for number in 2 3 4; do
  ranks $number "$folder/$number.h5"
  cmp "$folder/whole.h5" "$folder/$number.h5"
done
for seconds in 0.5 1 1.5; do
  # mpirun takes its ranks with it.
  timeout -s TERM "$seconds" mpirun --oversubscribe -n 3 "$with_mpi" sweep "$study" \
    -o "$folder/killed.h5" "${few_days[@]}" >/dev/null 2>&1 || true
done
ranks 3 "$folder/killed.h5"
cmp "$folder/whole.h5" "$folder/killed.h5"

# Faults end all ranks, with the exit code of one.
status=0
mpirun --oversubscribe -n 3 "$with_mpi" sweep "$folder/none.toml" >"$folder/said" 2>&1 || status=$?
((status == 4))
(($(grep -c 'none.toml: cannot be read' "$folder/said") == 1))
