/* The user's wish to stop (Ctrl-C, or a polite kill), asked for between steps. */
#ifndef LASTWATER_INTERRUPT_H
#define LASTWATER_INTERRUPT_H

/* From here on SIGINT and SIGTERM are counted instead of ending the process, and a file grown past the allowed size is an error of the
 * write instead of an end (SIGXFSZ); interrupt_end brings back what was before. */
void interrupt_begin(void);
void interrupt_end(void);
int interrupt_count(void); /* since interrupt_begin */

#endif
