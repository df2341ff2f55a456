/* Shells round a tube in place of the grid's cells there, so that the heat and the ice right at the tube are resolved however coarse
 * the grid is (coil_well_open clears the cells and gives the radii).
 *
 * A ring is n shells between the tube's outside a and the circle b: unknowns of the heat balance like nodes, of the volume
 * pi (r_(i+1)^2 - r_i^2) 2 pi r0, each at the radius that halves its volume, rho_i. Conductances in the Kirchhoff potential:
 * 2 pi length / ln(rho_(i+1) / rho_i) between shells, 2 pi length / ln(rho_0 / a) to the tube, 2 pi length / ln(r_eff / rho_last) to the
 * weighted nodes at the rim of the hole. Heat that passes by, unlike on unlike sides, does not enter the shells: the rim nodes
 * conduct to one another as across the cleared cells without storage (the Schur complement of their conductances).
 *
 * Shells are thin and would set the number of stages. Their rates are therefore those of the state a short lag ahead:
 *     dE/dt = F(E*),   E* - E = lag F(E*),
 * (the resolvent, or Yosida approximation, of the heat balance; its eigenvalues are lambda / (1 + lag lambda), so 1 / lag bounds them;
 * Brezis 1973, ch. II). Every flux is that of E*, taken from one side and given to the other, so heat is kept to rounding
 * whatever the solution has left over. */
#ifndef LASTWATER_COIL_SHELLS_H
#define LASTWATER_COIL_SHELLS_H

#include "materials/phase_curve.h"
#include "solver/coil_well.h"

enum { COIL_SHELLS_MOST = 24 }; /* per ring */

typedef struct {   /* a face of a cleared cell */
  int32_t lower, upper;  /* nodes of the mesh, lower first along the axis */
  size_t place[2];       /* index into inside, or num_inside + index of the rim node */
  int axis;
  double still;          /* m */
} coil_shells_face;

typedef struct {
  int32_t coil;                           /* whose, for the caller                            */
  size_t ring;
  int32_t part;
  size_t num;                             /* shells                                          */
  size_t first;                           /* unknown of the innermost                        */
  size_t num_rim;
  int32_t *node;                          /* [num_rim] nodes at the rim of the hole, owned                */
  double *weight;                         /* [num_rim] >= 0, sum 1, owned                                  */
  double *cross;                          /* [num_rim * num_rim] m, conductances between rim nodes, owned   */
  coil_shells_face *face;                 /* [num_faces] of the cleared cells, owned                     */
  size_t num_faces;
  double link, link_now;                  /* m, from the last shell to the weighted rim; with motion      */
  size_t num_inside;
  int32_t *inside, *shell_of;             /* [num_inside] nodes cleared; the unknown that stands in for each; owned */
  double geometric;                       /* m, between the innermost shell and the tube            */
  double edge[COIL_SHELLS_MOST + 1];      /* m, radii of the shells                                */
  double volume[COIL_SHELLS_MOST];        /* m3                                                    */
  double between[COIL_SHELLS_MOST];       /* m, from shell i to i + 1, at rest                     */
  double between_now[COIL_SHELLS_MOST];   /* m, with motion                                        */
  /* of the last solution */
  double start[COIL_SHELLS_MOST], ahead[COIL_SHELLS_MOST]; /* J/m3: E and E*                        */
  double potential[COIL_SHELLS_MOST], slope[COIL_SHELLS_MOST]; /* W/m and m2/s, at E*               */
  double change[COIL_SHELLS_MOST], response[COIL_SHELLS_MOST]; /* the next change of E*: change + response T_coolant */
} coil_shells;

/* Heat from the innermost shell into the tube, W: g (slope u + offset - T_coolant). */
typedef struct { double g, slope, offset; } coil_shells_tube;

/* Divides the hole of a well (num_inside > 0) into shells. `first`: unknown of the innermost; scale: tube length over that of a flat
 * turn. `w` stays the caller's. */
status coil_shells_create(coil_shells *out, const coil_well *w, const mesh *m, int part, double r0, double z0, double tube_radius,
                          double scale, size_t first, message *msg);
void coil_shells_release(coil_shells *s); /* NULL-safe */

/* Works out `cross`; factor [num_faces]: how much motion multiplies the conduction of each face, NULL: not at all. */
status coil_shells_cross(coil_shells *s, const double *factor, message *msg);

/* Sets out from a state: E* = E. `enthalpy` of all unknowns. */
void coil_shells_start(coil_shells *s, const phase_curve *curve, const double *enthalpy);
/* One round of Newton's method: the next potential of the innermost shell is  *fixed + *by_coolant * T_coolant. `potential` of all
 * nodes, W/m; lag in s. */
void coil_shells_linearise(coil_shells *s, const double *potential, double lag, const coil_shells_tube *tube, double *fixed,
                           double *by_coolant);
/* Takes the step for a coolant temperature. True: some shell left the tangent of its curve, so another round is due. */
bool coil_shells_move(coil_shells *s, const phase_curve *curve, double coolant);

/* Radius of the ice, m, when the ice in the shells is laid round the tube; the outer radius when all are frozen through. */
double coil_shells_ice_radius(const coil_shells *s, const phase_curve *curve, const double *enthalpy);

#endif
