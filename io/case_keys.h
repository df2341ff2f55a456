/* The keys of a case file: ONE table, used by the reader, by `lastwater --help keys` and by the resolved case.
 *
 * A section is a map with its own keys; a key's value is one of the types below. The reader walks a file along this table, so that
 * an unknown key, a value of the wrong form or without its unit, a name that nothing bears is told at its place, all in one go. */
#ifndef LASTWATER_CASE_KEYS_H
#define LASTWATER_CASE_KEYS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#include "io/fault.h"
#include "io/quantity.h"
#include "io/yaml_tree.h"

typedef enum {
  SECTION_CASE,
  SECTION_ROOM,
  SECTION_MAINS,
  SECTION_PART,
  SECTION_PIECE,
  SECTION_MATERIAL,
  SECTION_BODY,
  SECTION_MOTION,
  SECTION_BATH,
  SECTION_BAG,
  SECTION_COIL,
  SECTION_PLANT,
  SECTION_COMPRESSOR,
  SECTION_THERMOSTAT,
  SECTION_SURFACE,
  SECTION_STAGE,
  SECTION_UNTIL,
  SECTION_PROBE,
  SECTION_GRID,
  SECTION_MIRROR,
  SECTION_RUN,
  SECTION_NUM
} case_section;

typedef enum {
  VALUE_TEXT,        /* free text                                                              */
  VALUE_NAME,        /* a new name, unique in its list                                          */
  VALUE_REFERENCE,   /* the name of something else in the file; `among` says of what            */
  VALUE_CHOICE,      /* one of the words in `choices`                                           */
  VALUE_FLAG,        /* yes, no, true, false                                                    */
  VALUE_QUANTITY,    /* a number with its unit                                                  */
  VALUE_SCHEDULE,    /* a quantity, or rows [time, quantity]                                    */
  VALUE_POINT,       /* [r, z] or [x, y, z]                                                     */
  VALUE_POINTS,      /* a list of [r, z]                                                        */
  VALUE_OUTLINE,     /* a list of [x, y]                                                        */
  VALUE_PATH,        /* a list of [x, y, z]                                                     */
  VALUE_NUMBERS,     /* ten plain numbers                                                       */
  VALUE_TABLE,       /* rows [temperature, conductivity, heat per volume, liquid share]         */
  VALUE_MAP,         /* a map of `section`                                                      */
  VALUE_LIST,        /* a list of maps of `section`                                             */
  VALUE_WORD_OR_MAP, /* one of the words in `choices`, or a map of `section`                    */
  VALUE_WORD_OR_QUANTITY, /* one of the words in `choices`, or a quantity                       */
  VALUE_SOLID        /* a material by name, or a map of `section`                               */
} value_type;

typedef enum { RANGE_ANY, RANGE_ABOVE_ZERO, RANGE_NOT_BELOW_ZERO, RANGE_SHARE } value_range;

enum { AMONG_PARTS = 1, AMONG_BODIES = 2, AMONG_BATHS = 4, AMONG_ROOM = 8, AMONG_ALL = 7 };

typedef struct {
  case_section section;     /* whose key it is                                          */
  const char *key;
  value_type type;
  quantity_kind kind;       /* VALUE_QUANTITY, VALUE_SCHEDULE                           */
  value_range range;
  bool required;
  const char *preset;       /* what counts when the key is missing, as one would write it; NULL: nothing */
  const char *choices;      /* words separated by '|'                                   */
  case_section child;       /* VALUE_MAP, VALUE_LIST, VALUE_WORD_OR_MAP, VALUE_SOLID    */
  unsigned among;           /* VALUE_REFERENCE                                          */
  const char *help;
} case_key;

size_t case_keys_num(void);
const case_key *case_keys_at(size_t i); /* all keys, section by section */
/* NULL when the section has no such key. */
const case_key *case_keys_find(case_section section, const char *key);
const char *case_keys_section_name(case_section section); /* "parts[]", "room", ... */

/* True when word is one of the choices, exactly. */
bool case_keys_is_choice(const char *choices, const char *word);
/* Index of word among choices, -1 if none. */
int case_keys_choice_index(const char *choices, const char *word);

/* Walks the whole tree along the table and adds every fault of form, unit, range, name (case_keys_check.c). */
void case_keys_check(const yaml_node *root, const quantity_system *units, fault_list *faults);

/* The keys as help: every section with its keys, what they mean, unit, default. Returns false when the stream fails. */
bool case_keys_print(FILE *to);

#endif
