/* Salt as it is sold: by grade, with the purity on the label and the water bound in it.
 *
 * A bag holds a share f of anhydrous salt; the rest is bound water and a little other salt, which dissolves into the whole:
 *     w = sum f m / (water + sum m),
 * w counting anhydrous salt over all that is in the tub. Masses kg, temperatures degC, heat J. */
#ifndef LASTWATER_SALT_GRADE_H
#define LASTWATER_SALT_GRADE_H

#include "materials/brine.h"

typedef struct {
  const char *name;        /* "CaCl2 flake 77"; spaces, _ and - count the same, letters of either case            */
  const char *words;       /* what is on the bag                                                                */
  brine_salt salt;
  double share, low, high; /* kg of anhydrous salt (pure antifreeze) per kg: as labelled, and the range the grade allows */
} salt_grade;

size_t salt_grade_num(void);
const salt_grade *salt_grade_at(size_t i);
/* A grade by its name, or a salt with a purity of one's own: "CaCl2 78 %". STATUS_BAD_INPUT: what was found, what is closest in kind. */
status salt_grade_find(salt_grade *out, const char *name, message *msg);

/* Strength of what is in the tub: num bags, mass[num] kg each, in water kg. */
double salt_grade_strength(const salt_grade *bags, const double *mass, size_t num, double water);
/* kg of a grade that make the water kg of brine-to-be of strength w from `brine` kg of strength `now` (0: plain water). NAN: the grade is
 * not strong enough, or the brine is stronger already. */
double salt_grade_to_add(const salt_grade *g, double brine, double now, double w);
/* kg of water that thin `brine` kg of strength `now` to w; NAN when it is weaker already. */
double salt_grade_water_to_add(double brine, double now, double w);
/* Heat let go by dissolving a kilogram of the bag into a bath of working strength (warms: above 0), J/kg; about 15 %. NAN: not known.
 * Enthalpies of formation of salt, hydrates and solution at 25 degC (NBS tables, from memory); CaCl2 less 6 kJ/mol for a bath of
 * some 2 to 2.6 mol/kg instead of infinitely thin (Toner & Catling 2017); between hydrates by the bound water. */
double salt_grade_solution_heat(const salt_grade *g);

#endif
