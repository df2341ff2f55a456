/* The manual page and the completion for bash, made from the table of commands and options (options.h). */
#ifndef LASTWATER_MANUAL_H
#define LASTWATER_MANUAL_H

#include <stdbool.h>
#include <stdio.h>

bool manual_print_man(FILE *to);  /* roff, section 1; false when the stream fails */
bool manual_print_bash(FILE *to);

#endif
