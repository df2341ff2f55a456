/* What every function that can fail returns, and the sentence that goes with it.
 *
 * This header includes nothing of ours and is used by every folder; it is the one header that
 * may be included against the direction of the arrows (io -> solver -> geometry, materials).
 *
 * Zero is success and the sign says what to do: a positive status means the object is unchanged
 * and the caller may try again with a smaller step; a negative one means stop. */
#ifndef LASTWATER_STATUS_H
#define LASTWATER_STATUS_H

#include <stdarg.h>
#include <stdio.h>

typedef enum {
  STATUS_RETRY = 1,        /* nothing changed; try a smaller step                        */
  STATUS_OK = 0,           /* done                                                       */
  STATUS_BAD_INPUT = -1,   /* the user's input is wrong; exit code 2                     */
  STATUS_NO_MEMORY = -2,   /* out of memory; exit code 1                                 */
  STATUS_FILE = -3,        /* a file could not be read or written; exit code 1           */
  STATUS_FAILED = -4,      /* the computation failed; exit code 1                        */
  STATUS_INTERRUPTED = -5  /* stopped by the user, can be resumed; exit code 130         */
} status;

/* One sentence for a person: place first, the value with its unit, the bound, the next move.
 * Owned by the caller; may be NULL wherever a function takes one. */
typedef struct {
  char text[1024];
} message;

/* Writes the formatted sentence into msg (if not NULL) and returns code, so that a failing
 * branch reads `return message_set(msg, STATUS_BAD_INPUT, "...", ...);`. Too long is cut. */
#if defined(__GNUC__)
__attribute__((format(printf, 3, 4)))
#endif
static inline status message_set(message *msg, status code, const char *format, ...)
{
  if (msg) {
    va_list args;
    va_start(args, format);
    (void)vsnprintf(msg->text, sizeof msg->text, format, args);
    va_end(args);
  }
  return code;
}

#endif
