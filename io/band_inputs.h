/* What is uncertain in a case: values with a spread in the file, and what carries the spread of its published sources without being asked. */
#ifndef LASTWATER_BAND_INPUTS_H
#define LASTWATER_BAND_INPUTS_H

#include "io/case_file.h"

enum { BAND_INPUTS_MOST = 32, BAND_INPUTS_TEXT = 256 };

typedef struct {
  char key[BAND_INPUTS_TEXT];             /* as --set calls it                                                    */
  char low[BAND_INPUTS_TEXT], high[BAND_INPUTS_TEXT]; /* settings "key=value" of its ends                          */
  char says[BAND_INPUTS_TEXT];            /* "5.6 .. 10.4 W/(m2 K)", for people                                    */
  const char *source;                     /* of a spread that was not asked for; NULL: it stands in the case       */
  bool three;                             /* three published sources, the case's own between the ends; each as likely as another  */
  bool two;                               /* two published sources, the case's own (low) or the other (high); no ends */
} band_input;

typedef struct {
  size_t num;
  band_input inputs[BAND_INPUTS_MOST];
  size_t num_left_out;                    /* more than BAND_INPUTS_MOST, or spreads in tables and places           */
} band_inputs;

/* Walks the case as it was read. */
status band_inputs_find(band_inputs *out, const case_file *c, message *msg);

#endif
