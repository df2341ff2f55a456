/* `lastwater run CASE`: the main job, from a case that is read to the files it leaves.
 *
 *   claim the directory -> make the run -> (--resume: put it back where its checkpoint stood) -> march: store fields, save checkpoints,
 *   show progress -> write the results -> say the answer on stdout
 *
 * Killed at any moment, `--resume` goes on from the last checkpoint to the same bits; without a checkpoint it starts anew, and when
 * the results are there already it says them again. Every failure leaves earlier results of the directory as they were. */
#ifndef LASTWATER_RUN_COMMAND_H
#define LASTWATER_RUN_COMMAND_H

#include "io/case_file.h"
#include "io/options.h"

/* STATUS_INTERRUPTED: stopped by the user; msg says from where --resume goes on. Progress and its end on stderr, the answer on
 * stdout. Sets the number of threads. */
status run_command(const options *o, const case_file *c, message *msg);

#endif
