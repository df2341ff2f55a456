#include "solver/coil_shells.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double pi = 3.14159265358979323846;
/* Radii grow by about this factor from shell to shell: fine enough for the ice to grow evenly. */
static const double GROWTH = 1.15;
enum { FEWEST = 4 };
/* Newton's method ends when the curve is met so nearly by its tangents: what is left is not lost, it only lags. */
static const double SETTLED = 1e-7;

/* ------------------------------------------------------------------------------------------- making */

/* The radius that halves the volume of a shell: where its temperature is taken. */
static double middle(const coil_shells *s, size_t shell)
{
  return sqrt(0.5 * (s->edge[shell] * s->edge[shell] + s->edge[shell + 1] * s->edge[shell + 1]));
}

static void divide(coil_shells *s, double from, double to, double length, double r0)
{
  const double wanted = ceil(log(to / from) / log(GROWTH));
  s->num = wanted < FEWEST ? FEWEST : wanted > COIL_SHELLS_MOST ? COIL_SHELLS_MOST : (size_t)wanted;
  for (size_t i = 0; i <= s->num; i++)
    s->edge[i] = from * pow(to / from, (double)i / (double)s->num);
  for (size_t i = 0; i < s->num; i++)
    s->volume[i] = pi * (s->edge[i + 1] * s->edge[i + 1] - s->edge[i] * s->edge[i]) * 2.0 * pi * r0;
  for (size_t i = 0; i + 1 < s->num; i++)
    s->between[i] = s->between_now[i] = 2.0 * pi * length / log(middle(s, i + 1) / middle(s, i));
  s->geometric = 2.0 * pi * length / log(middle(s, 0) / from);
}

/* The shell that reaches out to a distance from the tube's axis. */
static size_t shell_at(const coil_shells *s, double distance)
{
  size_t shell = 0;
  while (shell + 1 < s->num && s->edge[shell + 1] < distance)
    shell++;
  return shell;
}

static size_t place_of(const coil_shells *s, int32_t node)
{
  for (size_t n = 0; n < s->num_inside; n++)
    if (s->inside[n] == node)
      return n;
  size_t at = 0;
  while (at < s->num_rim && s->node[at] != node)
    at++;
  return s->num_inside + at;
}

/* The regular faces of the cleared cells, each once. */
static void list_faces(coil_shells *s, const mesh *m)
{
  const int32_t stride[3] = {1, 0, (int32_t)(m->grid->num[0] * m->grid->num[1])};
  for (size_t n = 0; n < s->num_inside; n++)
    for (int axis = 0; axis < 3; axis += 2)
      for (int up = 0; up < 2; up++) {
        const int32_t here = s->inside[n], there = up ? here + stride[axis] : here - stride[axis];
        const size_t other = place_of(s, there);
        if (!m->regular[axis] || (!up && other < s->num_inside))
          continue; /* listed from the other side */
        const int32_t lower = up ? here : there, upper = up ? there : here;
        s->face[s->num_faces++] = (coil_shells_face){.lower = lower, .upper = upper, .axis = axis, .still = m->regular[axis][lower],
                                                     .place = {place_of(s, lower), place_of(s, upper)}};
      }
}

status coil_shells_create(coil_shells *out, const coil_well *w, const mesh *m, int part, double r0, double z0, double tube_radius,
                          double scale, size_t first, message *msg)
{
  coil_shells s = {.part = part, .first = first, .num_rim = w->num, .num_inside = w->num_inside};
  const double length = w->length * scale;
  divide(&s, tube_radius, w->outer_radius, length, r0);
  s.link = s.link_now = 2.0 * pi * length / log(w->equivalent_radius / middle(&s, s.num - 1));
  s.node = malloc((w->num + 1) * sizeof *s.node);
  s.weight = malloc((w->num + 1) * sizeof *s.weight);
  s.cross = malloc((w->num * w->num + 1) * sizeof *s.cross);
  s.face = malloc((4 * w->num_inside + 1) * sizeof *s.face);
  s.inside = malloc((w->num_inside + 1) * sizeof *s.inside);
  s.shell_of = malloc((w->num_inside + 1) * sizeof *s.shell_of);
  status code = STATUS_OK;
  if (!s.node || !s.weight || !s.cross || !s.face || !s.inside || !s.shell_of) {
    code = message_set(msg, STATUS_NO_MEMORY, "out of memory for the shells of a tube ring");
    goto done;
  }
  memcpy(s.node, w->node, w->num * sizeof *s.node);
  memcpy(s.weight, w->weight, w->num * sizeof *s.weight);
  memcpy(s.inside, w->inside, w->num_inside * sizeof *s.inside);
  for (size_t n = 0; n < w->num_inside; n++) {
    const double *at = m->centroid[w->inside[n]];
    s.shell_of[n] = (int32_t)(first + shell_at(&s, hypot(at[0] - r0, at[2] - z0)));
  }
  list_faces(&s, m);
  code = coil_shells_cross(&s, NULL, msg);
  if (code == STATUS_OK) {
    *out = s;
    s = (coil_shells){0};
  }
done:
  coil_shells_release(&s);
  return code;
}

void coil_shells_release(coil_shells *s)
{
  if (s) {
    free(s->node);
    free(s->weight);
    free(s->cross);
    free(s->face);
    free(s->inside);
    free(s->shell_of);
    *s = (coil_shells){0};
  }
}

/* Gauss elimination of the cleared cells from the conductances of cells and rim: what remains joins the rim nodes. */
status coil_shells_cross(coil_shells *s, const double *factor, message *msg)
{
  const size_t inside = s->num_inside, num = inside + s->num_rim;
  double *g = calloc(num * num, sizeof *g); /* conductance between two places; the diagonal is not used */
  if (!g)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the shells of a tube ring");
  for (size_t f = 0; f < s->num_faces; f++) {
    const size_t *at = s->face[f].place;
    const double value = s->face[f].still * (factor ? factor[f] : 1.0);
    g[at[0] * num + at[1]] += value;
    g[at[1] * num + at[0]] += value;
  }
  for (size_t out = 0; out < inside; out++) { /* a star is turned into a mesh */
    double sum = 0.0;
    for (size_t i = out + 1; i < num; i++)
      sum += g[out * num + i];
    for (size_t i = out + 1; i < num; i++)
      for (size_t j = out + 1; j < num && g[out * num + i] > 0.0; j++)
        if (i != j)
          g[i * num + j] += g[out * num + i] * g[out * num + j] / sum;
  }
  for (size_t i = 0; i < s->num_rim; i++)
    for (size_t j = 0; j < s->num_rim; j++)
      s->cross[i * s->num_rim + j] = i == j ? 0.0 : g[(inside + i) * num + inside + j];
  free(g);
  return STATUS_OK;
}

/* ------------------------------------------------------------------------------------------- the state a lag ahead */

/* u and du/dH of the straight piece of the curve on which the enthalpy lies. */
static double potential_and_slope(const phase_curve *c, double enthalpy, double *slope)
{
  if (c->three_lines) {
    *slope = enthalpy < c->solid_enthalpy ? c->solid_potential_slope : enthalpy > c->liquid_enthalpy ? c->liquid_potential_slope : 0.0;
    return phase_curve_potential(c, enthalpy);
  }
  double share;
  const size_t bin = phase_curve_bin(c, enthalpy, &share);
  const double rise = c->potential[bin + 1] - c->potential[bin];
  *slope = rise / c->width;
  return c->potential[bin] + share * rise;
}

void coil_shells_start(coil_shells *s, const phase_curve *curve, const double *enthalpy)
{
  for (size_t i = 0; i < s->num; i++) {
    s->start[i] = s->ahead[i] = enthalpy[s->first + i];
    s->potential[i] = potential_and_slope(curve, s->ahead[i], &s->slope[i]);
  }
}

/* Row i of Newton's method, c = V / lag, u linear about E*:
 *   c (E* + d - E) + sum over neighbours G (u_i + s_i d_i - u_j - s_j d_j) + the tube's or the nodes' share = 0;
 * tridiagonal, its columns diagonally dominant, so elimination needs no pivots. The coolant temperature stays open: two right sides. */
void coil_shells_linearise(coil_shells *s, const double *potential, double lag, const coil_shells_tube *tube, double *fixed,
                           double *by_coolant)
{
  const size_t last = s->num - 1;
  const double outer = s->link_now;
  double diagonal[COIL_SHELLS_MOST], above[COIL_SHELLS_MOST], driven = 0.0;
  for (size_t n = 0; n < s->num_rim; n++)
    driven += outer * s->weight[n] * potential[s->node[n]];
  for (size_t i = 0; i <= last; i++) {
    const double *u = s->potential, capacity = s->volume[i] / lag;
    const double inward = i > 0 ? s->between_now[i - 1] : tube->g * tube->slope, outward = i < last ? s->between_now[i] : outer;
    double out = (inward + outward) * u[i]; /* W that leave the shell */
    out += i > 0 ? -inward * u[i - 1] : tube->g * tube->offset;
    out += i < last ? -outward * u[i + 1] : -driven;
    diagonal[i] = capacity + (inward + outward) * s->slope[i];
    above[i] = i < last ? -outward * s->slope[i + 1] : 0.0;
    s->change[i] = capacity * (s->start[i] - s->ahead[i]) - out;
    s->response[i] = i > 0 ? 0.0 : tube->g;
    if (i > 0) {
      const double factor = -inward * s->slope[i - 1] / diagonal[i - 1];
      diagonal[i] -= factor * above[i - 1];
      s->change[i] -= factor * s->change[i - 1];
      s->response[i] -= factor * s->response[i - 1];
    }
  }
  for (size_t i = s->num; i-- > 0;) {
    const double later_change = i < last ? above[i] * s->change[i + 1] : 0.0, later_response = i < last ? above[i] * s->response[i + 1] : 0.0;
    s->change[i] = (s->change[i] - later_change) / diagonal[i];
    s->response[i] = (s->response[i] - later_response) / diagonal[i];
  }
  *fixed = s->potential[0] + s->slope[0] * s->change[0];
  *by_coolant = s->slope[0] * s->response[0];
}

bool coil_shells_move(coil_shells *s, const phase_curve *curve, double coolant)
{
  bool again = false;
  for (size_t i = 0; i < s->num; i++) {
    const double change = s->change[i] + s->response[i] * coolant, expected = s->potential[i] + s->slope[i] * change;
    s->ahead[i] += change;
    s->potential[i] = potential_and_slope(curve, s->ahead[i], &s->slope[i]);
    again = again || fabs(s->potential[i] - expected) > SETTLED * (1.0 + fabs(expected));
  }
  return again;
}

/* ------------------------------------------------------------------------------------------- reports */

double coil_shells_ice_radius(const coil_shells *s, const phase_curve *curve, const double *enthalpy)
{
  double ice = 0.0, all = 0.0;
  for (size_t i = 0; i < s->num; i++) {
    ice += s->volume[i] * (1.0 - phase_curve_liquid_fraction(curve, enthalpy[s->first + i]));
    all += s->volume[i];
  }
  const double a = s->edge[0], b = s->edge[s->num];
  return sqrt(a * a + ice / all * (b * b - a * a));
}
