/* Stirred water: its liquid is one temperature, with a film on every surface and on the ice (network.h, "Stirred water"). */
#include "solver/network_parts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* The film is on the ice: it passes from the node behind to the outermost one of the front while that loses the first of its warmth, this
 * share of it; a front that melts back stands there. */
static const double FIRST_WARMTH = 0.1;
/* Nodes that were ice and are clear again move to the others' temperature at this share of the bound on the eigenvalues. */
static const double REJOIN = 0.1;
static const double NEARLY_ICE = 0.1; /* of the latent heat is left */
static const double ALIKE = 1e-6;     /* of the latent heat */
enum { SIDES = 6 };

/* ------------------------------------------------------------------------------------------- making */

static bool is_of(const network *net, size_t node, size_t body)
{
  return net->part[node] == net->rig->bodies[body].part && net->volume[node] > 0.0;
}

/* Nodes body by body. */
status network_mix_make(network *net, message *msg)
{
  const rig *r = net->rig;
  size_t num = 0;
  for (size_t body = 0; body < r->num_bodies; body++)
    for (size_t node = 0; r->bodies[body].flow.kind == MOTION_STIRRED && node < net->num_nodes; node++)
      num += is_of(net, node, body);
  if (num == 0)
    return STATUS_OK;
  net->mix_node = malloc(num * sizeof *net->mix_node);
  net->mix_clear = malloc(num * sizeof *net->mix_clear);
  net->mix_state = calloc(net->num_unknowns + 1, sizeof *net->mix_state);
  net->mix_film = calloc(net->num_unknowns + 1, sizeof *net->mix_film);
  net->mix_area = calloc(3 * net->num_unknowns + 1, sizeof *net->mix_area);
  net->mix_behind = malloc((net->num_unknowns + 1) * sizeof *net->mix_behind);
  net->mix_before = malloc(num * sizeof *net->mix_before);
  net->mix_temperature = calloc(net->rig->num_parts + 1, sizeof *net->mix_temperature);
  net->mix_face = malloc((SIDES * num + net->num_faces + 1) * sizeof *net->mix_face);
  if (!net->mix_node || !net->mix_clear || !net->mix_state || !net->mix_film || !net->mix_area || !net->mix_before || !net->mix_behind || !net->mix_temperature || !net->mix_face)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for %zu nodes of stirred water", num);
  for (size_t body = 0; body < r->num_bodies; body++)
    for (size_t node = 0; r->bodies[body].flow.kind == MOTION_STIRRED && node < net->num_nodes; node++)
      if (is_of(net, node, body))
        net->mix_node[net->num_mix++] = (int32_t)node;
  return STATUS_OK;
}

/* ------------------------------------------------------------------------------------------- which nodes */

static bool is_wet(const network *net, size_t node, const double *enthalpy)
{
  return enthalpy[node] > net->curve[net->part[node]]->solid_enthalpy;
}

/* Beside such a node the water belongs to the front: it must not fall back into the clear water while the front hesitates. */
static bool is_nearly_ice(const network *net, size_t node, const double *enthalpy)
{
  const phase_curve *c = net->curve[net->part[node]];
  return enthalpy[node] < c->solid_enthalpy + NEARLY_ICE * (c->liquid_enthalpy - c->solid_enthalpy);
}

/* Behind a node is that of its neighbours which is most ice; of those alike the first, so that both sides of a mirror plane have the same. */
static void stand_before(network *net, int32_t node, int32_t ice, const double *enthalpy)
{
  const phase_curve *c = net->curve[net->part[node]];
  const int32_t now = net->mix_behind[node];
  if (now < 0 || enthalpy[ice] < enthalpy[now] - ALIKE * (c->liquid_enthalpy - c->solid_enthalpy))
    net->mix_behind[node] = ice;
}

/* A clear node beside one that is nearly ice is the next of the front. */
static void look_across(network *net, int32_t a, int32_t b, int axis, double conductance, const double *enthalpy)
{
  (void)axis;
  if (!(conductance > 0.0) || !net->mix_state[a] || !net->mix_state[b])
    return;
  if (is_nearly_ice(net, (size_t)b, enthalpy) && enthalpy[a] > enthalpy[b]) {
    net->mix_state[a] = net->mix_state[a] == MIX_CLEAR ? MIX_FRONT : net->mix_state[a];
    stand_before(net, a, b, enthalpy);
  }
  if (is_nearly_ice(net, (size_t)a, enthalpy) && enthalpy[b] > enthalpy[a]) {
    net->mix_state[b] = net->mix_state[b] == MIX_CLEAR ? MIX_FRONT : net->mix_state[b];
    stand_before(net, b, a, enthalpy);
  }
}

/* Calls `look` for every face between two nodes. */
static void over_faces(network *net, const double *enthalpy, void (*look)(network *, int32_t, int32_t, int, double, const double *))
{
  const heat_flux_rows *rows = conductance_rows_view(net->rows);
  const size_t n = rows->num[0], swept = n * rows->num[1] * rows->num[2], stride[3] = {1, n, n * rows->num[1]};
  for (int axis = 0; axis < 3; axis++)
    for (size_t i = 0; rows->conductance[axis] && i < net->num_mix; i++) {
      const size_t node = (size_t)net->mix_node[i], up = node + stride[axis];
      if (node < swept && up < swept)
        look(net, (int32_t)node, (int32_t)up, axis, rows->conductance[axis][node / n][node % n + 1], enthalpy);
    }
  for (size_t f = 0; f < net->num_faces; f++)
    look(net, net->faces[f].left, net->faces[f].right, net->faces[f].axis, net->faces[f].moved, enthalpy);
}

/* End of the nodes of the body whose first node is at `from`. */
static size_t end_of(const network *net, size_t from)
{
  size_t to = from + 1;
  while (to < net->num_mix && net->part[net->mix_node[to]] == net->part[net->mix_node[from]])
    to++;
  return to;
}

/* Volume and mean enthalpy of the clear nodes; false: there are none. */
static bool mean_of(const network *net, size_t from, size_t to, const double *enthalpy, double *volume, double *mean)
{
  double heat = 0.0;
  *volume = 0.0;
  for (size_t i = from; i < to; i++)
    if (net->mix_state[net->mix_node[i]] == MIX_CLEAR) {
      *volume += net->volume[net->mix_node[i]];
      heat += net->volume[net->mix_node[i]] * enthalpy[net->mix_node[i]];
    }
  *mean = *volume > 0.0 ? heat / *volume : 0.0;
  return *volume > 0.0;
}

/* What surfaces meet is the mean of the clear nodes. */
static void offer_mean(network *net, const double *enthalpy)
{
  double volume, mean;
  for (size_t from = 0, to; from < net->num_mix; from = to) {
    to = end_of(net, from);
    const int32_t part = net->part[net->mix_node[from]];
    if (!mean_of(net, from, to, enthalpy, &volume, &mean))
      continue;
    net->mix_temperature[part] = phase_curve_temperature(net->curve[part], mean);
    const double potential = phase_curve_potential(net->curve[part], mean);
    for (size_t i = from; i < to; i++)
      if (net->mix_state[net->mix_node[i]] == MIX_CLEAR)
        net->potential[net->mix_node[i]] = potential;
  }
}

void network_mix_refresh(network *net, const double *enthalpy)
{
  if (net->num_mix == 0)
    return;
  for (size_t i = 0; i < net->num_mix; i++) {
    const size_t node = (size_t)net->mix_node[i];
    const bool clear = enthalpy[node] >= net->curve[net->part[node]]->liquid_enthalpy;
    net->mix_state[node] = clear ? MIX_CLEAR : is_wet(net, node, enthalpy) ? MIX_FRONT : MIX_ICE;
    net->mix_behind[node] = -1;
    net->mix_film[node] = net->mix_area[3 * node] = net->mix_area[3 * node + 1] = net->mix_area[3 * node + 2] = 0.0;
  }
  over_faces(net, enthalpy, look_across);
  offer_mean(net, enthalpy);
}

bool network_mix_has_begun(network *net)
{
  const bool begun = net->mix_begun;
  net->mix_begun = false;
  return begun;
}

/* A surface colder than freezing, whose film would have the water supercooled: ice begins in that node. True: ask the surface anew. */
bool network_mix_freezes(network *net, int32_t node, double surface)
{
  if (!network_is_clear(net, node) || !(surface < net->curve[net->part[node]]->freezing_temperature))
    return false;
  net->mix_state[node] = MIX_FRONT;
  net->mix_begun = true;
  return true;
}

/* Between clear water and a node of the front the film stands alone: those faces are taken out of the balance again. */
static void note_face(network *net, int32_t a, int32_t b, int axis, double conductance, const double *enthalpy)
{
  (void)enthalpy;
  const int sum = net->mix_state[a] + net->mix_state[b];
  if (!(conductance > 0.0) || !net->mix_state[a] || !net->mix_state[b] || sum != MIX_CLEAR + MIX_FRONT)
    return;
  net->mix_face[net->num_mix_faces++] = (mix_face){a, b, conductance};
  const double area = conductance * fabs(net->mesh->centroid[b][axis] - net->mesh->centroid[a][axis]);
  const bool front_is_a = net->mix_state[a] == MIX_FRONT;
  net->mix_area[3 * (front_is_a ? a : b) + axis] += front_is_a ? area : -area;
}

size_t network_mix_list_clear(network *net)
{
  size_t num = 0;
  for (size_t i = 0; i < net->num_mix; i++)
    if (network_is_clear(net, net->mix_node[i]))
      net->mix_clear[num++] = net->mix_node[i];
  return num;
}

static double conductivity_of_liquid(const network *net, int32_t part)
{
  const phase_curve *c = net->curve[part];
  return phase_curve_conductivity_at(c, c->freezing_temperature, 1);
}

double network_mix_settle(network *net, const double *enthalpy, double bound)
{
  double largest = bound;
  if (net->num_mix == 0)
    return bound;
  net->num_mix_faces = 0;
  over_faces(net, enthalpy, note_face);
  for (size_t i = 0; i < net->num_mix; i++) {
    const int32_t node = net->mix_node[i];
    const double *a = net->mix_area + 3 * node;
    if (net->mix_state[node] == MIX_FRONT)
      net->mix_film[node] += net->film[net->part[node]] * sqrt(a[0] * a[0] + a[1] * a[1] + a[2] * a[2]) / conductivity_of_liquid(net, net->part[node]);
  }
  network_tube_ice_films(net, enthalpy);
  for (size_t i = 0; i < net->num_mix; i++) {
    const int32_t node = net->mix_node[i];
    const double own = net->still_sum[node] + net->entry_sum[node];
    if (!(net->mix_state[node] == MIX_FRONT && net->mix_film[node] > 0.0))
      net->mix_film[node] = 0.0;
    largest = larger(largest, 2.0 * net->steepest[net->part[node]] * (own + net->mix_film[node] / FIRST_WARMTH) * net->inverse_volume[node]);
  }
  net->mix_rate = REJOIN * largest;
  return largest + net->mix_rate;
}

/* ------------------------------------------------------------------------------------------- evaluation */

void network_mix_begin(network *net, const double *enthalpy, double scale, double *target)
{
  for (size_t f = 0; net->num_mix > 0 && f < net->num_mix_faces; f++) {
    const mix_face *e = &net->mix_face[f];
    const double q = e->conductance * (net->potential[e->a] - net->potential[e->b]);
    target[e->a] += scale * q * net->inverse_volume[e->a];
    target[e->b] -= scale * q * net->inverse_volume[e->b];
  }
  for (size_t i = 0; i < net->num_mix; i++)
    net->mix_before[i] = target[net->mix_node[i]];
  offer_mean(net, enthalpy);
}

/* Heat through the films on the ice, W, given to the nodes of the front. */
static double melt(const network *net, size_t from, size_t to, const double *enthalpy, double mean, double scale, double *target)
{
  const phase_curve *c = net->curve[net->part[net->mix_node[from]]];
  const double drive = phase_curve_potential(c, mean), first = FIRST_WARMTH * (mean - c->liquid_enthalpy);
  double given = 0.0;
  for (size_t i = from; first > 0.0 && i < to; i++) {
    const int32_t node = net->mix_node[i];
    if (!(net->mix_film[node] > 0.0))
      continue;
    const double q = net->mix_film[node] * drive;
    const double own = smaller(1.0, larger(0.0, (mean - enthalpy[node]) / first)) * q;
    target[node] += scale * own * net->inverse_volume[node];
    if (net->mix_behind[node] < 0) {
      given += own;
      continue;
    }
    target[net->mix_behind[node]] += scale * (q - own) * net->inverse_volume[net->mix_behind[node]];
    given += q;
  }
  return given;
}

/* All that the clear nodes gave since network_mix_begin, and the films on the ice, is given by all of them alike. */
void network_mix_end(const network *net, const double *enthalpy, double scale, double *target)
{
  double volume, mean;
  for (size_t from = 0, to; from < net->num_mix; from = to) {
    to = end_of(net, from);
    if (!mean_of(net, from, to, enthalpy, &volume, &mean))
      continue;
    double gained = -scale * melt(net, from, to, enthalpy, mean, scale, target), apart = 0.0;
    for (size_t i = from; i < to; i++)
      if (net->mix_state[net->mix_node[i]] == MIX_CLEAR) {
        gained += net->volume[net->mix_node[i]] * (target[net->mix_node[i]] - net->mix_before[i]);
        apart += net->volume[net->mix_node[i]] * (mean - enthalpy[net->mix_node[i]]);
      }
    gained -= scale * net->mix_rate * apart; /* nothing, but for the rounding of the mean, which fast rejoining would let leak */
    for (size_t i = from; i < to; i++) {
      const int32_t node = net->mix_node[i];
      if (net->mix_state[node] == MIX_CLEAR)
        target[node] = net->mix_before[i] + gained / volume + scale * net->mix_rate * (mean - enthalpy[node]);
    }
  }
}
