/* Numbers with units, as people write them.
 *
 * The number is read by our own grammar and split from the unit before UDUNITS-2 sees the unit:
 *
 *     value   = number unit | number unit "+-" number unit | number unit "+-" number "%" | number [unit] ".." number unit
 *     number  = [sign] decimal | [sign] whole "/" whole | [sign] whole " " whole "/" whole        (18  -2.5e3  1/2  1 1/2)
 *
 * Refused, each with its reason: a bare number where a unit belongs, 1:30, decimal and thousands commas, hexadecimal, NaN, infinity,
 * numbers beyond a double, several numbers (5 ft 3 in), bare `oz` and `ton` (ambiguous), offsets and dates (UDUNITS' @ and `since`),
 * reciprocals (Hz for a time), text after the unit. A pressure says absolute or gauge. A temperature difference is in K or
 * `delta degC` / `delta degF`; degC inside a compound unit (W/m2/degC) is a difference already. Left without a unit, the first number of
 * a range or spread takes the unit of the second, except for a temperature with a spread.
 *
 * A unit system is read-only after creation, but UDUNITS' parser must be called from one thread only. */
#ifndef LASTWATER_QUANTITY_H
#define LASTWATER_QUANTITY_H

#include <stdbool.h>

#include "io/status.h"

typedef enum {
  QUANTITY_NUMBER,             /* bare                        */
  QUANTITY_SHARE,              /* 0.22 or 22 %                */
  QUANTITY_LENGTH,             /* m                           */
  QUANTITY_AREA,               /* m2                          */
  QUANTITY_VOLUME,             /* m3                          */
  QUANTITY_MASS,               /* kg                          */
  QUANTITY_TIME,               /* s                           */
  QUANTITY_TEMPERATURE,        /* degC                        */
  QUANTITY_DIFFERENCE,         /* K, of temperatures          */
  QUANTITY_PRESSURE,           /* Pa; see `gauge`             */
  QUANTITY_FILM,               /* W/(m2 K)                    */
  QUANTITY_CONDUCTIVITY,       /* W/(m K)                     */
  QUANTITY_DENSITY,            /* kg/m3                       */
  QUANTITY_SPECIFIC_HEAT,      /* J/(kg K)                    */
  QUANTITY_VOLUMETRIC_HEAT,    /* J/(m3 K)                    */
  QUANTITY_LATENT_HEAT,        /* J/kg                        */
  QUANTITY_VOLUMETRIC_LATENT,  /* J/m3                        */
  QUANTITY_RESISTANCE,         /* m2 K/W                      */
  QUANTITY_CONDUCTANCE,        /* W/K                         */
  QUANTITY_FLOW,               /* m3/s                        */
  QUANTITY_POWER,              /* W                           */
  QUANTITY_SPECIFIC_POWER,     /* W/kg                        */
  QUANTITY_ANGLE,              /* rad                         */
  QUANTITY_CURRENT,            /* A                           */
  QUANTITY_VOLTAGE,            /* V                           */
  QUANTITY_SPEED,              /* m/s                         */
  QUANTITY_NUM_KINDS
} quantity_kind;

typedef struct {
  double value;     /* SI, temperatures in degC; of a range its middle                 */
  double low, high; /* SI; equal to value without a spread                             */
  bool spread;      /* a spread or range was written                                   */
  bool gauge;       /* QUANTITY_PRESSURE: value is above the site's air pressure       */
} quantity;

typedef struct quantity_system quantity_system; /* the units known; opaque */

/* Reads the units' database (some 10 ms). STATUS_FILE when it is missing. */
status quantity_system_create(quantity_system **out, message *msg);
void quantity_system_destroy(quantity_system **s); /* NULL-safe */

/* Reads the whole of text (UTF-8, NUL-ended). STATUS_BAD_INPUT: msg says what was found and what is accepted, *out untouched. */
status quantity_parse(const quantity_system *s, quantity_kind kind, const char *text, quantity *out, message *msg);

const char *quantity_name(quantity_kind kind);    /* "a length"       */
const char *quantity_example(quantity_kind kind); /* "3 mm"           */
const char *quantity_unit(quantity_kind kind);    /* "m"; "" if bare  */

#endif
