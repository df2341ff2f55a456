/* Hands what is to do of a sweep to Slurm, as a job array: every task works off its share (sweep --share K/N) in the shared directory. */
#ifndef LASTWATER_SWEEP_SLURM_H
#define LASTWATER_SWEEP_SLURM_H

#include "io/options.h"
#include "io/sweep.h"

/* Writes DIR/slurm.sh and submits it with sbatch; DIR/slurm.job keeps the number of the job. Slurm's own settings (partition, time, memory) are
 * taken from the environment, as sbatch does (SBATCH_PARTITION, SBATCH_TIMELIMIT, ...). STATUS_BAD_INPUT: nothing is to do, an array of this directory
 * is still in the queue, a path cannot be quoted; STATUS_FAILED: sbatch refused, its own words are on stderr. */
status sweep_slurm_submit(sweep *s, const options *o, message *msg);

#endif
