#!/usr/bin/env bash
# A study as an array of Slurm jobs, ready to edit: each makes one part of the runs, the last step
# joins them. A job that is killed goes on when it is submitted again. Submit from this folder:
#
#   sbatch study_array.sh
#   sbatch --dependency=afterok:JOBID --wrap "heapcast gather parts/*.h5 -o study.h5"
#
#SBATCH --job-name=heapcast_study
#SBATCH --array=1-40
#SBATCH --cpus-per-task=8
#SBATCH --mem=2G
#SBATCH --time=04:00:00
#SBATCH --requeue
# Fixed here, so that a part that is submitted again by itself (--array=7) is the same part.
parts=40
set -euo pipefail

mkdir -p parts
heapcast sweep study.toml --shard "$SLURM_ARRAY_TASK_ID/$parts" \
  --threads "${SLURM_CPUS_PER_TASK:-1}" -o "parts/$SLURM_ARRAY_TASK_ID.h5" --quiet

# Or as one job with MPI (built with -D HEAPCAST_MPI=ON), the runs handed out as ranks become free:
#   srun --ntasks=64 heapcast sweep study.toml -o study.h5
