/* Water shut in by ice: how hard the freezing presses on the shell round it, and whether the shell is likely to crack.
 *
 * A pocket of radius a whose walls grow inward at V swells by 9.07 % of what freezes. The shell (outer radius b) first stretches, then creeps
 * by Glen's law fast enough to make room (closed forms for a sphere, checked by integration):
 *     elastic  p = swelling df / {3 u + 1/K_w},  u = [(1 - 2 nu) + (1 + nu) (b/a)^3 / 2] / {E [(b/a)^3 - 1]}      (Lame)
 *     creep    X = sqrt(3) swelling V / (a A(T)),  p = 2 sqrt(3) X^(1/3) (1 - a/b),  outer skin: hoop tension sqrt(3) X^(1/3) a/b
 * The lower pressure counts. Creep moves the tension to the outer skin: that is where blocks crack, worst just after the pocket closed. */
#ifndef LASTWATER_POCKET_PRESSURE_H
#define LASTWATER_POCKET_PRESSURE_H

typedef struct {
  double radius;      /* m, a > 0 */
  double outer;       /* m, b > a: to the nearest free surface */
  double speed;       /* m/s of its walls, > 0 */
  double temperature; /* degC, mean of the shell */
} pocket_shell;

/* Frozen share of the pocket per pascal while the shell only stretches; modulus in Pa. */
double pocket_pressure_elastic_share(const pocket_shell *s, double modulus);

typedef enum { CRACK_NONE, CRACK_POSSIBLE, CRACK_LIKELY } crack_risk; /* index below 0.5, to 1, above */
typedef struct {
  double pressure;     /* Pa above the surroundings                                     */
  double skin_tension; /* Pa at the outer skin                                          */
  double index;        /* skin tension / tensile strength                               */
  double settling;     /* s until creep has taken over from stretching (about three times the relaxation time) */
  crack_risk risk;
} pocket_stress;
/* Creeping shell; at most the melting pressure at its outer face (twice its mean below 0 degC), beyond which no more water freezes. */
pocket_stress pocket_pressure_of(const pocket_shell *s);
crack_risk pocket_pressure_risk(double index);

/* Temperature of the shell, degC, that carries off the heat of walls growing at `speed`: quasi-steady in a sphere, mean of both faces. */
double pocket_pressure_shell_temperature(double radius, double outer, double speed);

#endif
