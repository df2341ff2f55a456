/* Numbers as a person says them: durations, places, masses, for pictures and the report. */
#ifndef LASTWATER_PLAIN_WORDS_H
#define LASTWATER_PLAIN_WORDS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

enum { PLAIN_WORDS = 96 };

/* "23 h 40 min", "8 min 20 s", from ten days on "12 d 4 h"; "not known" when not finite. */
void plain_words_duration(double seconds, char text[PLAIN_WORDS]);
/* What goes after "at": "the axis, z = 210 mm", "r = 35 mm, z = 210 mm" or "x = 1 mm, y = 2 mm, z = 3 mm". */
void plain_words_place(const double point[3], bool revolved, char text[PLAIN_WORDS]);
/* "4.3 kg (9.48 lb)", below one kilogram "160 g (5.6 oz)"; listed: "160 g, 5.6 oz", to stand in brackets itself. */
void plain_words_mass(double kilograms, bool listed, char text[PLAIN_WORDS]);
/* "12 L (3.17 US gal)", below one litre "480 mL (16.2 US fl oz)". */
void plain_words_volume(double cubic_metres, char text[PLAIN_WORDS]);
/* "210 mm", from ten metres on "12.5 m"; four digits. */
void plain_words_length(double metres, char text[PLAIN_WORDS]);
/* value with unit, `digits` significant digits and a true minus sign: "4.32 kWh", "-15 degC" with its proper signs. */
void plain_words_value(double value, int digits, const char *unit, char text[PLAIN_WORDS]);
/* The sign a unit is written with ("degC" -> degree sign C, "1" -> "", "W" -> "W"). */
const char *plain_words_unit(const char *unit);

/* Writes a paragraph of at most 80 columns with the given first and further indents, broken at spaces. */
void plain_words_wrap(FILE *to, const char *first, const char *further, const char *text);

#endif
