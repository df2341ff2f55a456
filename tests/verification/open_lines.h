/* Lines of the exact checks that the program does not meet yet: an honest list, not a tolerance.
 *
 * A line in this list is printed as OPEN with its figure and its true limit; it does not fail the suite. A line that misses and is not
 * listed fails. A listed line that now holds is printed as such: take it out. Nothing else may be done with this list. */
#ifndef LASTWATER_OPEN_LINES_H
#define LASTWATER_OPEN_LINES_H

#include <stdbool.h>

/* Is the line `what` of the table `title` known to be open? */
bool open_lines_has(const char *title, const char *what);

#endif
