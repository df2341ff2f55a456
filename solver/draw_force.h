/* The force that draws a mould out of slush, besides its weight, as a range.
 *
 * Slush grips with its yield stress  tau = tau_1 phi^3.5  (phi: ice share; exponent after measurements on ice suspensions of 9 to 29 % ice;
 * tau_1 1 kPa freshly stirred to 200 kPa aged for hours: an estimate). Above 40 % ice the wall is frozen in: adhesion of 20 kPa (wet, salty)
 * to 280 kPa (bulk-water ice on aluminium), so of tens of kilonewtons: such a mould is not pulled but melted free.
 * A wall that is wider at the top parts from the slush as soon as it moves. A parallel one rubs all the way and sucks at its floor (up to the
 * brine's head and five yield stresses, until air or brine gets there); one narrower at the top must also push slush aside (five
 * yield stresses on the area it sees from above). Engineering judgement throughout. */
#ifndef LASTWATER_DRAW_FORCE_H
#define LASTWATER_DRAW_FORCE_H

typedef enum { DRAFT_TAPERED, DRAFT_PARALLEL, DRAFT_REVERSED } draft_kind;

/* Sums over the wetted wall; start from {0}. */
typedef struct {
  double side, lean;                  /* m2 of side walls; sum of area * upward component of the outward normal */
  double reversed;                    /* m2 of side walls that lean inward going up, by more than half a degree  */
  double base, base_ice;              /* m2 of floor, sum of area * ice                                         */
  double grip_low, grip_high;         /* N                                                                      */
  double push_high;                   /* N on reversed walls                                                    */
} draw_grip;

/* A piece of wetted wall: area m2, upward part of the normal pointing from the mould into the bath (-1: its floor), ice share by mass. */
void draw_force_add(draw_grip *g, double area, double upward, double ice);

typedef struct {
  double low, high;    /* N                                                                       */
  double draft;        /* degrees, mean of the side walls; above 0: wider at the top              */
  draft_kind kind;     /* tapered from half a degree on; reversed when 2 % of the wall leans inward */
} draw_force;
/* depth: m of brine over the floor; density kg/m3. */
draw_force draw_force_of(const draw_grip *g, double depth, double density);

#endif
