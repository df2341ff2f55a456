/* A directory for one test, and looking into files, shared by the tests of io/. */
#ifndef TESTS_IO_SCRATCH_H
#define TESTS_IO_SCRATCH_H

#include <stdbool.h>
#include <stddef.h>

enum { SCRATCH_PATH = 512 };

/* A fresh directory under TMPDIR (or /tmp); aborts the test when there is none to be had. */
void scratch_create(char directory[SCRATCH_PATH]);
void scratch_remove(const char *directory); /* with all that is in it */
/* Whole contents, 0 ended, free() them; NULL when it cannot be read. */
char *scratch_read(const char *directory, const char *name, size_t *num_bytes);
void scratch_write(const char *directory, const char *name, const void *bytes, size_t num_bytes);
bool scratch_has(const char *directory, const char *name);
size_t scratch_num_entries(const char *directory);
/* Files of this process may grow to num_bytes and no further: what a full disk does, as far as a program can tell. */
void scratch_limit_files(size_t num_bytes);

#endif
