/* Where a run's results go: CASE.result beside the case, or the directory that was asked for.
 *
 * A directory holds the results of one case: its case.yaml, the resolved text, says which. Results of another case are refused, and
 * so is a directory that another run is writing to. */
#ifndef LASTWATER_RESULT_DIR_H
#define LASTWATER_RESULT_DIR_H

#include "io/whole_file.h"

#define RESULT_DIR_CASE "case.yaml"

/* "rigs/drum.yaml" -> "rigs/drum.result"; an ending .yaml or .yml goes, any other stays. asked (may be NULL or empty) wins. */
status result_dir_name(char path[WHOLE_FILE_PATH], const char *case_path, const char *asked, message *msg);

/* Makes the directory (its parent must be there) unless it is there, takes its lock, and refuses results of another case.
 * case_text is the resolved case. *lock is a file descriptor for result_dir_release; it ends with the process too. Nothing is written
 * into the directory. STATUS_BAD_INPUT: refused, the sentence says why; STATUS_FILE: cannot be made or read. */
status result_dir_claim(const char *path, const char *case_text, int *lock, message *msg);
void result_dir_release(int *lock); /* *lock is -1 afterwards */

#endif
