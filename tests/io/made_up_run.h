/* A result directory with invented fields, of any size, without a run: for pages of runs that would take too long. Nothing in it is a claim
 * about ice. */
#ifndef TESTS_IO_MADE_UP_RUN_H
#define TESTS_IO_MADE_UP_RUN_H

#include <stddef.h>

/* Ice grows from the walls inward over num_times stored hours; temperatures carry a little noise, so that they compress no better than
 * computed ones. case_path with one override ("grid.spacing=4 mm"). Ends the test on any failure. Returns the number of cells. */
size_t made_up_run_write(const char *directory, const char *case_path, const char *override, size_t num_times);

#endif
