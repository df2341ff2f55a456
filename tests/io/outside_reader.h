/* Reads HDF5 files with the format's own command-line tools (h5dump, h5ls), so not with our code. */
#ifndef TESTS_IO_OUTSIDE_READER_H
#define TESTS_IO_OUTSIDE_READER_H

#include <stddef.h>

/* The numbers of a data set in the order they lie in the file (C order), as doubles; single: the set holds float32. *num is how many
 * there are. free() them. NULL: the tool could not read it. */
double *outside_reader_numbers(const char *file, const char *set, int single, size_t *num);
/* What h5ls says of the extents: "{2/Inf, 4, 3}"; empty when there is no such set. */
void outside_reader_extents(const char *file, const char *set, char *text, size_t size);
/* The text of an attribute of an object, or empty. */
void outside_reader_attribute(const char *file, const char *object_and_attribute, char *text, size_t size);

#endif
