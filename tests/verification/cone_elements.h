/* A plain second way to the freezing of a cone, for references: linear finite elements in (r, z) on congruent right triangles that fit
 * the cone, lumped enthalpy, explicit steps. Nothing of the program is in it.
 *
 * Lengths in the cone's radius R, temperatures in T_f - T_cold, time in R^2 / alpha of the ice: Fourier numbers. */
#ifndef LASTWATER_CONE_ELEMENTS_H
#define LASTWATER_CONE_ELEMENTS_H

typedef struct {
  double height;            /* over R                                                     */
  double stefan, biot;      /* c_s (T_f - T_cold) / L; h R / k_s, INFINITY: faces held cold */
  double conductivity, heat_capacity; /* of the liquid over those of the ice               */
  double superheat;         /* (T_i - T_f) / (T_f - T_cold)                               */
} cone_elements;

/* Fourier number at which the last node freezes, all faces cold, `num` triangles along the radius. */
double cone_elements_complete(const cone_elements *c, int num);
/* The same from num / 2 and num, carried on with the 1.6th power of the spacing, as lumped enthalpy was seen to converge on bars with an
 * exact solution; good to some 3e-4 at 80 (the last node lies beside the last point). */
double cone_elements_extrapolated(const cone_elements *c, int num);

#endif
